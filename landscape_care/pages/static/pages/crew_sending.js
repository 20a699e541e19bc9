// Sends the notes of a phone one after the other, each until the office has said a word about it.

import { allNotes, changeNote } from "./crew_queue.js";

const PATIENCE_MS = 60_000;

// Who is signed in, and a fresh token: the one in a kept page may be days old.
export async function greet() {
  try {
    const answer = await fetch("/crew/hello/", { redirect: "manual", signal: AbortSignal.timeout(10_000) });
    if (answer.type === "opaqueredirect") return { signedOut: true };
    return answer.ok ? await answer.json() : null;
  } catch {
    return null;
  }
}

// One page at a time: two open pages would send a note twice, which the office bears, but to no use.
export function sendNotes(heard) {
  if (!navigator.locks) return send(heard);
  return navigator.locks.request("crew-notes", { ifAvailable: true }, (lock) => lock && send(heard));
}

async function send(heard) {
  const waiting = (await allNotes()).filter((note) => note.state === "waiting");
  let who = await greet();
  heard(who);
  for (const note of waiting) {
    if (!who || who.signedOut) return;
    if (note.person !== who.person) continue;
    const answer = await post(note, who.token);
    if (answer?.status === 403 && !note.triedToken) {
      note.triedToken = true;
      who = await greet();
      if (!(await settle(note, who?.token ? await post(note, who.token) : null))) return;
    } else if (!(await settle(note, answer))) return;
  }
}

async function post(note, token) {
  note.tries += 1;
  await changeNote(note);
  const form = new FormData();
  for (const [name, value] of note.fields) form.append(name, value);
  if (note.photo) form.append("photo", note.photo, note.photoName);
  form.append("csrfmiddlewaretoken", token);
  try {
    return await fetch(note.address, {
      method: "POST",
      body: form,
      headers: { Accept: "application/json" },
      redirect: "manual",
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  } catch {
    return null;
  }
}

// True when there was a word about it; else it waits, and so does all that comes after it.
async function settle(note, answer) {
  if (!answer || answer.type === "opaqueredirect" || answer.status >= 500 || answer.status === 429) return false;
  const said = await answer.json().catch(() => ({}));
  note.triedToken = false;
  if (answer.ok && said.said === "noted") {
    note.state = "sent";
    // By the clock of the office, which also stamps the pages.
    note.sentAt = Date.parse(answer.headers.get("Date")) || Date.now();
    note.photo = null;
  } else {
    note.state = answer.status === 409 && said.seen ? "clash" : "refused";
    note.answer = answer.status === 404 ? { said: "gone", problems: [] } : said;
  }
  await changeNote(note);
  return true;
}
