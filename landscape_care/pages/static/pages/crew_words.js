// Says what is sent, what waits and what was refused, beside the care it is about and above the day.

const A_SECOND_MS = 1000; // the Date of an answer has no more than seconds
const A_DAY_MS = 24 * 3600 * 1000;

export class Telling {
  constructor(phone, choices) {
    this.phone = phone;
    this.choices = choices;
    this.made = Date.parse(phone.dataset.made);
    this.person = Number(phone.dataset.person);
  }

  word(name, values = {}) {
    return this.phone.dataset[name].replace(/\{(\w+)\}/g, (_, key) => values[key] ?? "");
  }

  clock(moment) {
    return new Date(moment).toLocaleTimeString(document.documentElement.lang, { hour: "numeric", minute: "2-digit" });
  }

  // What the office answered when it was last asked: nothing, that nobody is signed in, or who is.
  heard(who) {
    const line = this.phone.querySelector("[data-signal]");
    this.phone.querySelector("[data-sign-in]").hidden = !who?.signedOut;
    line.textContent = who?.signedOut ? this.word("signedOut") : who ? "" : this.word("noSignal", { at: this.clock(this.made) });
  }

  say(name) {
    this.phone.querySelector("[data-signal]").textContent = this.word(name);
  }

  async show(notes) {
    for (const line of document.querySelectorAll(".kept-note")) line.remove();
    for (const article of document.querySelectorAll(".noted")) article.classList.remove("noted");
    const told = notes.filter((note) => note.state !== "sent" || note.sentAt + A_SECOND_MS > this.made);
    for (const note of told) this.showOne(note);
    this.sum(notes);
  }

  showOne(note) {
    const place = note.person === this.person && document.getElementById(note.about);
    const line = this.line(note, !place);
    if (place) place.append(line);
    else if (note.state !== "sent") this.phone.querySelector("ul").append(line);
    const sort = note.fields.find(([name]) => name === "sort")?.[1];
    if (place && sort) place.dataset.times = sort;
    else if (place) place.classList.add("noted");
  }

  line(note, named) {
    const line = document.createElement(named ? "li" : "div");
    line.className = `kept-note kept-${note.state}`;
    const words = document.createElement("p");
    words.textContent = (named ? `${note.title}: ` : "") + this.state(note);
    line.append(words);
    if (note.person === this.person) line.append(...this.buttons(note));
    return line;
  }

  state(note) {
    const at = this.clock(note.madeAt);
    if (note.state === "clash") return this.word("clash", note.answer);
    if (note.state === "refused") return this.word("refused", { why: note.answer.problems?.join(" ") || this.word("gone") });
    return this.word(note.state, { at });
  }

  buttons(note) {
    const { again, drop, useMine } = this.choices;
    const sorts = {
      clash: [["useMine", useMine], ["keepTheirs", drop]],
      refused: note.answer?.said === "wrong" ? [["noteAgain", again], ["drop", drop]] : [["drop", drop]],
      waiting: note.tries ? [] : [["takeBack", again]],
    };
    return (sorts[note.state] ?? []).map(([name, act]) => {
      const button = Object.assign(document.createElement("button"), { type: "button", textContent: this.word(name) });
      button.addEventListener("click", () => act(note), { once: true });
      return button;
    });
  }

  sum(notes) {
    const mine = notes.filter((note) => note.person === this.person);
    const waiting = mine.filter((note) => note.state === "waiting");
    const others = notes.filter((note) => note.person !== this.person && note.state !== "sent").length;
    const stuck = mine.filter((note) => note.state === "clash" || note.state === "refused").length;
    const old = waiting.some((note) => Date.now() - note.madeAt > A_DAY_MS);
    const lines = [
      stuck && this.word("stuck", { count: stuck }),
      waiting.length && this.word("count", { count: waiting.length, at: this.clock(waiting[0].madeAt) }),
      old && this.word("old"),
      others && this.word("others", { count: others }),
      !waiting.length && !stuck && mine.length && this.word("allSent"),
    ];
    this.phone.querySelector("[data-sum]").textContent = lines.filter(Boolean).join(" ");
    this.phone.querySelector("[data-send-now]").hidden = !waiting.length;
    this.phone.classList.toggle("pressing", Boolean(stuck || old));
  }
}
