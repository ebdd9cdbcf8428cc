// What the hand hears and feels. A phone without vibration still sounds; one without sound still shows the word.

const TONES = {
  good: [[880, 0, 0.09]],
  look: [[660, 0, 0.12], [660, 0.18, 0.12]],
  stop: [[220, 0, 0.22], [165, 0.26, 0.4]],
};
const SHAKES = { good: 60, look: [60, 60, 60], stop: [250, 80, 250] };
let audio;

// Browsers let a page sound only after it was touched once.
const wake = () => {
  const Audio = window.AudioContext ?? window.webkitAudioContext;
  audio ??= Audio ? new Audio() : null;
  if (audio?.state === "suspended") audio.resume();
};
for (const touch of ["pointerdown", "keydown"]) document.addEventListener(touch, wake, { passive: true });

const sound = (tone) => {
  if (!audio) return;
  for (const [pitch, after, long] of TONES[tone]) {
    const voice = audio.createOscillator();
    const loud = audio.createGain();
    voice.frequency.value = pitch;
    loud.gain.value = 0.25;
    voice.connect(loud).connect(audio.destination);
    voice.start(audio.currentTime + after);
    voice.stop(audio.currentTime + after + long);
  }
};

export const feel = (tone) => {
  navigator.vibrate?.(SHAKES[tone]);
  sound(tone);
};
