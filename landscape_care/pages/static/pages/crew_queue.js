// The notes of a phone, in the order in which they were made, kept until the office has them.
//
// A note is written down here before anything is sent, with all that will ever be sent of it: the same
// note sent twice is the same to the byte, and the office knows it by its number.

const NAME = "crew-notes";
const KEPT_MS = 2 * 24 * 3600 * 1000;

let opened;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore("notes", { keyPath: "order", autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opened;
}

async function within(mode, work) {
  const transaction = (await open()).transaction("notes", mode);
  const asked = work(transaction.objectStore("notes"));
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve(asked.result);
    transaction.onabort = transaction.onerror = () => reject(transaction.error);
  });
}

export const allNotes = () => within("readonly", (notes) => notes.getAll());
export const keepNote = (note) => within("readwrite", (notes) => notes.add(note));
export const changeNote = (note) => within("readwrite", (notes) => notes.put(note));
export const dropNote = (note) => within("readwrite", (notes) => notes.delete(note.order));

// What is not with the office stays however old it is; what is there is dropped after two days.
export const isUnsent = (note) => note.state !== "sent";

export async function dropOldNotes() {
  for (const note of await allNotes()) {
    if (!isUnsent(note) && Date.now() - note.sentAt > KEPT_MS) await dropNote(note);
  }
}

export async function countUnsent() {
  const known = (await indexedDB.databases?.()) ?? [{ name: NAME }];
  return known.some((each) => each.name === NAME) ? (await allNotes()).filter(isUnsent).length : 0;
}

export async function wipe() {
  if (opened) (await opened).close();
  opened = undefined;
  indexedDB.deleteDatabase(NAME);
  for (const name of (await globalThis.caches?.keys()) ?? []) if (name === "crew-days") await caches.delete(name);
}
