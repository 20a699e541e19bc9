// A crew's day that works without a signal: what is noted stays on the phone first and is sent from there.

import { allNotes, dropNote, dropOldNotes, isUnsent, keepNote } from "./crew_queue.js";
import { greet, sendNotes } from "./crew_sending.js";
import { Telling } from "./crew_words.js";
import { askBeforeLeaving } from "./leaving.js";

const EVERY_MS = 15_000;
const LONGEST_PX = 2000;
const phone = document.getElementById("phone");

askBeforeLeaving(document);
openLongForms();
checkReadings();
if (phone && globalThis.isSecureContext && globalThis.indexedDB) begin();

async function begin() {
  const telling = new Telling(phone, { again, drop, useMine });
  await dropOldNotes();
  document.addEventListener("submit", (submit) => {
    if (submit.target.matches("form[data-kept]")) keepForm(submit, telling);
    else if (submit.target.matches("form[data-needs-signal]")) sendAtOnce(submit, telling);
  });
  document.addEventListener("click", (click) => {
    const link = click.target.closest("a[data-gate]");
    if (link) showGate(click, link, telling);
  });
  phone.querySelector("[data-send-now]").addEventListener("click", () => deliver(telling));
  globalThis.addEventListener("online", () => deliver(telling));
  document.addEventListener("visibilitychange", () => document.hidden || deliver(telling));
  setInterval(() => deliver(telling, { onlyWaiting: true }), EVERY_MS);
  keepPages();
  offerHomeScreen();
  await telling.show(await allNotes());
  await deliver(telling);

  async function again(note) {
    await dropNote(note);
    await telling.show(await allNotes());
    fill(note);
  }

  async function drop(note) {
    await dropNote(note);
    const who = await greet();
    if (who && !who.signedOut) location.reload();
    else await telling.show(await allNotes());
  }

  async function useMine(note) {
    const said = note.fields.filter(([name]) => name !== "number" && name !== "seen");
    const fields = [["number", crypto.randomUUID()], ["seen", note.answer.seen], ...said];
    await keepNote({ ...without(note, "order", "answer"), fields, state: "waiting", tries: 0 });
    await dropNote(note);
    await deliver(telling);
  }
}

const without = (note, ...names) => Object.fromEntries(Object.entries(note).filter(([name]) => !names.includes(name)));

async function deliver(telling, { onlyWaiting = false } = {}) {
  const before = await allNotes();
  if (onlyWaiting && !before.some((note) => note.state === "waiting")) return;
  await sendNotes((who) => telling.heard(who));
  const after = await allNotes();
  await telling.show(after);
  if (before.filter(isUnsent).length > after.filter(isUnsent).length) keepPages();
}

// --- Keeping ------------------------------------------------------------------------------------

async function keepForm(submit, telling) {
  submit.preventDefault();
  const { target: form, submitter } = submit;
  const about = (submitter ?? form).closest("article, .times");
  const said = new FormData(form);
  if (submitter?.name) said.append(submitter.name, submitter.value);
  const photo = said.get("photo");
  const madeAt = new Date();
  const words = [...said].filter(([name, value]) => typeof value === "string" && !UNSAID.includes(name));
  await keepNote({
    person: Number(phone.dataset.person),
    address: new URL(submitter?.hasAttribute("formaction") ? submitter.formAction : form.action).pathname,
    fields: [["number", crypto.randomUUID()], ["made_at", madeAt.toISOString()], ...words],
    photo: photo?.size ? await smaller(photo) : null,
    photoName: photo?.size ? photo.name : "",
    title: `${about.closest("li").querySelector("h2").textContent}, ${about.querySelector("h3")?.textContent ?? submitter.textContent}`,
    about: about.id,
    madeAt: madeAt.getTime(),
    state: "waiting",
    tries: 0,
  });
  await telling.show(await allNotes());
  await deliver(telling);
}

const UNSAID = ["csrfmiddlewaretoken", "number", "photo"];

// A picture of twelve megapixels takes minutes on a weak signal; what cannot be made smaller stays as it is.
async function smaller(photo) {
  try {
    const picture = await createImageBitmap(photo);
    const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
    if (scale === 1 && photo.size < 1e6) return photo;
    const canvas = new OffscreenCanvas(Math.round(picture.width * scale), Math.round(picture.height * scale));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return await canvas.convertToBlob({ type: "image/jpeg", quality: 0.82 });
  } catch {
    return photo;
  }
}

async function sendAtOnce(submit, telling) {
  submit.preventDefault();
  const { target: form, submitter } = submit;
  const who = await greet();
  telling.heard(who);
  if (!who || who.signedOut) return telling.say("needsSignal");
  if (submitter?.name) form.append(Object.assign(document.createElement("input"), { type: "hidden", name: submitter.name, value: submitter.value }));
  form.submit();
}

async function showGate(click, link, telling) {
  click.preventDefault();
  try {
    const answer = await fetch(link.href, { headers: { Accept: "application/json" }, redirect: "manual" });
    if (answer.type === "opaqueredirect" || answer.status === 403) return location.assign(link.href);
    const { gate, note } = await answer.json();
    const code = Object.assign(document.createElement("span"), { className: "gate", textContent: gate });
    const line = document.createElement("p");
    line.append(`${link.dataset.gate}: `, code, ` ${note}`);
    link.replaceWith(line);
  } catch {
    telling.say("gateNeedsSignal");
  }
}

// --- The page -----------------------------------------------------------------------------------

// The long form is on the page once; a care task that needs it gets a copy, with a signal or without.
function openLongForms() {
  const long = document.getElementById("long-form");
  document.addEventListener("click", (click) => {
    const link = click.target.closest("a.more");
    if (!link || !long) return;
    click.preventDefault();
    lengthen(link.closest("article"));
  });
}

function lengthen(article) {
  const link = article.querySelector("a.more");
  if (!link) return article.querySelector("form");
  article.querySelector("button[name=outcome]").remove();
  const form = link.closest("form") ?? Object.assign(document.createElement("form"), { method: "post", action: link.href });
  const long = document.getElementById("long-form").content.cloneNode(true);
  if (form.contains(link)) link.replaceWith(long);
  else {
    form.dataset.kept = "";
    form.append(long);
    link.replaceWith(form);
  }
  form.addEventListener("change", () => {
    const outcome = form.elements.outcome.value;
    form.elements.reason.required = outcome === "skipped";
    form.elements.follow_up.required = outcome === "follow_up";
  });
  form.querySelector("input[type=radio]").focus();
  return form;
}

function fill(note) {
  const article = document.getElementById(note.about);
  if (!article?.matches("article")) return;
  article.querySelector("details")?.setAttribute("open", "");
  const form = lengthen(article);
  for (const [name, value] of note.fields) if (form.elements[name] && !UNSAID.includes(name)) form.elements[name].value = value;
  if (note.photo && form.elements.photo) {
    const files = new DataTransfer();
    files.items.add(new File([note.photo], note.photoName, { type: note.photo.type }));
    form.elements.photo.files = files.files;
  }
  form.dispatchEvent(new Event("change"));
}

function checkReadings() {
  document.addEventListener("input", ({ target }) => {
    if (!target.dataset.low) return;
    const value = Number(target.value.trim().replace(",", "."));
    const right = target.value.trim() === "" || (value >= Number(target.dataset.low) && value <= Number(target.dataset.high));
    target.setCustomValidity(right ? "" : target.closest(".field").querySelector(".help").textContent);
  });
}

async function keepPages() {
  if (!navigator.serviceWorker || !phone.dataset.keep) return;
  try {
    await navigator.serviceWorker.register("/crew/worker.js", { scope: "/crew/" });
    const ready = await navigator.serviceWorker.ready;
    ready.active.postMessage({ keep: phone.dataset.keep.split(" ") });
    navigator.storage?.persist?.();
  } catch { /* No worker: the page works with a signal, and notes are kept all the same. */ }
}

function offerHomeScreen() {
  const offer = document.getElementById("home-screen");
  if (!offer || localStorage.getItem("home-screen") || matchMedia("(display-mode: standalone)").matches) return;
  const [add, later] = offer.querySelectorAll("button");
  offer.hidden = navigator.standalone !== false;
  add.hidden = true;
  globalThis.addEventListener("beforeinstallprompt", (prompt) => {
    prompt.preventDefault();
    offer.hidden = add.hidden = false;
    add.addEventListener("click", () => { offer.hidden = true; prompt.prompt(); }, { once: true });
  });
  later.addEventListener("click", () => {
    offer.hidden = true;
    localStorage.setItem("home-screen", "later");
  });
}
