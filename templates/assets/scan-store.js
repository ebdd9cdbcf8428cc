// The phone's own memory: scans, photos, and what it was last told. One IndexedDB, shared by all tabs.
//
// A scan is on the disk before it is confirmed to the hand: every writing transaction asks for strict durability and
// is waited for until it is complete.

const NAME = "pourback-scans";
const VERSION = 1;
let opened;

const upgrade = (db) => {
  const scans = db.createObjectStore("scans", { keyPath: "n", autoIncrement: true });
  scans.createIndex("id", "id", { unique: true });
  scans.createIndex("state", ["state", "n"]);
  scans.createIndex("where", ["where", "n"]);
  const photos = db.createObjectStore("photos", { keyPath: "id" });
  photos.createIndex("scan", "scan");
  db.createObjectStore("known");
};

const open = () =>
  (opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(NAME, VERSION);
    asked.onupgradeneeded = () => upgrade(asked.result);
    asked.onerror = () => reject(asked.error);
    asked.onsuccess = () => {
      // A newer release in another tab must be able to change the stores.
      asked.result.onversionchange = () => asked.result.close();
      resolve(asked.result);
    };
  }));

export const result = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

// One transaction over the stores named; `work` gets them and may wait for their requests and nothing else.
const within = (mode) => async (names, work) => {
  const tx = (await open()).transaction(names, mode, mode === "readwrite" ? { durability: "strict" } : undefined);
  const complete = new Promise((resolve, reject) => {
    tx.oncomplete = resolve;
    tx.onabort = () => reject(tx.error ?? new Error("not kept"));
  });
  complete.catch(() => {});
  try {
    const answer = await work(...names.map((name) => tx.objectStore(name)));
    await complete;
    return answer;
  } catch (error) {
    if (tx.error === null) try { tx.abort(); } catch { /* it is over already */ }
    throw error;
  }
};

export const reading = within("readonly");
export const writing = within("readwrite");

export const remembered = (key) => reading(["known"], (known) => result(known.get(key)));

export const remember = (key, value) => writing(["known"], (known) => result(known.put(value, key)));

const channel = new BroadcastChannel(NAME);
const listeners = new Set();
channel.onmessage = () => listeners.forEach((listener) => listener());

// Something changed in the store: here, or in another tab.
export const onChange = (listener) => listeners.add(listener);

export const changed = () => {
  channel.postMessage("changed");
  listeners.forEach((listener) => listener());
};
