// The camera: frames go to the reader, codes come out. A code is given out when it comes into view, and again only
// after it has been out of view for a while: a tag held in front of the lens is one scan.

import { sleepAgain, stayAwake } from "./scan-awake.js";

const PAUSE = 60; // milliseconds between frames: ten frames a second or so, with time left for the page
const OUT_OF_VIEW = 2500;
const READER = { formats: ["QRCode"], tryHarder: true, maxNumberOfSymbols: 16 };
const WANTED = { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, height: { ideal: 720 } };

export const cameraTrouble = (wasm) => {
  if (!window.isSecureContext) {
    return "This address is not secure (no HTTPS), so the browser will not open the camera here. Type the code, or use a scanner that types.";
  }
  if (!navigator.mediaDevices?.getUserMedia) return "This browser gives no camera. Type the code, or use a scanner that types.";
  if (!wasm || !window.ZXingWASM) return "The code reader is not installed on this server. Type the code, or use a scanner that types.";
  return "";
};

const REFUSED = {
  NotAllowedError: "The camera was not allowed. Allow it in the browser's settings for this page, or type the code.",
  NotFoundError: "No camera was found. Type the code, or use a scanner that types.",
  NotReadableError: "Another app holds the camera. Close that app and press Camera again, or type the code.",
};

const readerFrom = (wasm) => {
  // From our own server, and of the same version as the script: the reader would ask elsewhere by default.
  window.ZXingWASM.prepareZXingModule({ overrides: { locateFile: () => wasm }, fireImmediately: true });
  return (image) => window.ZXingWASM.readBarcodes(image, READER);
};

// What comes out of a row of frames: each code once while it stays in view.
export const onceInView = (give, clock = () => performance.now()) => {
  const seen = new Map();
  return (texts) => {
    const now = clock();
    for (const text of new Set(texts)) {
      const before = seen.get(text);
      seen.set(text, now);
      if (before === undefined || now - before > OUT_OF_VIEW) give(text);
    }
    for (const [text, at] of seen) if (now - at > OUT_OF_VIEW) seen.delete(text);
  };
};

export class Camera {
  constructor(video, wasm, give) {
    Object.assign(this, { video, give, read: readerFrom(wasm), stream: null, canvas: document.createElement("canvas") });
    this.pen = this.canvas.getContext("2d", { willReadFrequently: true });
  }

  get running() {
    return this.stream !== null;
  }

  // Resolves to "" when it runs, or to a sentence that says why it does not.
  async start() {
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({ video: WANTED, audio: false });
    } catch (error) {
      return REFUSED[error.name] ?? `The camera did not open (${error.name}). Type the code, or use a scanner that types.`;
    }
    this.video.srcObject = this.stream;
    await this.video.play().catch(() => {});
    await stayAwake();
    this.look(onceInView(this.give), this.stream);
    return "";
  }

  stop() {
    this.stream?.getTracks().forEach((track) => track.stop());
    this.stream = null;
    this.video.srcObject = null;
    sleepAgain();
  }

  async look(give, stream) {
    while (this.stream === stream) {
      if (this.video.readyState >= 2 && !document.hidden) give(await this.texts());
      await new Promise((resolve) => setTimeout(resolve, PAUSE));
    }
  }

  async texts() {
    const { videoWidth: width, videoHeight: height } = this.video;
    if (!width || !height) return [];
    Object.assign(this.canvas, { width, height });
    this.pen.drawImage(this.video, 0, 0);
    const found = await this.read(this.pen.getImageData(0, 0, width, height)).catch(() => []);
    return found.map((one) => one.text).filter(Boolean);
  }

  get track() {
    return this.stream?.getVideoTracks()[0];
  }

  get hasTorch() {
    return Boolean(this.track?.getCapabilities?.().torch);
  }

  torch(on) {
    return this.track?.applyConstraints({ advanced: [{ torch: on }] });
  }
}
