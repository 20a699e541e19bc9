// Carry a visit to another cell of the month board, by pointer or by keys.
//
// A visit is picked up with Space on its handle, carried with the arrow keys and put down with Enter;
// Escape leaves it where it was. A mouse drags it at once, a finger after half a second. What was
// chosen is sent with the same form that the Move page has; the answer, what the move costs, opens in
// the dialog and waits for a yes.

import { showInDialog } from "./dialogs.js";

const HOLD_MS = 500;

export function carryVisits(part) {
  const board = part.matches?.("[data-board]") ? part : part.querySelector("[data-board]");
  if (!board) return;
  const carrier = new Carrier(board);
  for (const handle of board.querySelectorAll("[data-handle]")) {
    handle.hidden = false;
    handle.addEventListener("keydown", (key) => carrier.onKey(key, handle));
    handle.addEventListener("pointerdown", (pointer) => carrier.onPointerDown(pointer, handle));
    handle.addEventListener("click", (click) => click.preventDefault());
  }
}

class Carrier {
  constructor(board) {
    this.board = board;
    this.said = document.getElementById("said");
    this.stop = null;
    this.cell = null;
  }

  cells() {
    return [...this.board.querySelectorAll("tbody tr")]
      .map((row) => [...row.querySelectorAll("td[data-day]")])
      .filter((row) => row.length);
  }

  say(name, place) {
    if (this.said) this.said.textContent = this.said.dataset[name].replace("{place}", place ?? "");
  }

  pickUp(handle) {
    this.stop = handle.closest("[data-stop]");
    this.home = this.stop.closest("td");
    this.stop.classList.add("carried");
    this.board.classList.add("carrying");
    this.aim(this.home);
    this.say("picked", this.home.dataset.place);
  }

  aim(cell) {
    this.cell?.classList.remove("target");
    this.cell = cell;
    this.cell?.classList.add("target");
    this.cell?.scrollIntoView({ block: "nearest" });
  }

  leave() {
    this.stop?.classList.remove("carried");
    this.board.classList.remove("carrying");
    this.aim(null);
    this.stop = null;
  }

  putDown() {
    const { stop, cell, home } = this;
    this.leave();
    if (!cell || cell === home) return;
    const form = document.getElementById("carrying");
    form.action = stop.dataset.stop;
    form.elements.day.value = cell.dataset.day;
    form.elements.crew.value = cell.dataset.crewId;
    form.elements.version.value = stop.dataset.version;
    const dialog = document.getElementById("dialog");
    if (dialog?.showModal) showInDialog(dialog, form.action, new FormData(form));
    else form.requestSubmit();
  }

  onKey(key, handle) {
    if (!this.stop) {
      if (key.key !== " ") return;
      key.preventDefault();
      this.pickUp(handle);
      return;
    }
    const steps = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };
    if (steps[key.key]) {
      key.preventDefault();
      this.step(...steps[key.key]);
    } else if (key.key === "Enter" || key.key === " ") {
      key.preventDefault();
      this.putDown();
    } else if (key.key === "Escape") {
      key.preventDefault();
      this.leave();
      this.say("left");
    }
  }

  step(down, across) {
    const rows = this.cells();
    const row = rows.findIndex((cells) => cells.includes(this.cell));
    const next = rows[row + down]?.[rows[row].indexOf(this.cell) + across];
    if (!next) return;
    this.aim(next);
    this.say("over", next.dataset.place);
  }

  onPointerDown(pointer, handle) {
    if (pointer.button !== 0 || this.stop) return;
    if (pointer.pointerType === "mouse") {
      pointer.preventDefault();
      handle.focus();
      this.drag(handle);
      return;
    }
    const wait = setTimeout(() => this.drag(handle), HOLD_MS);
    for (const end of ["pointerup", "pointercancel", "pointermove"]) {
      handle.addEventListener(end, () => clearTimeout(wait), { once: true });
    }
  }

  drag(handle) {
    this.pickUp(handle);
    const ending = new AbortController();
    const over = (pointer) => {
      const cell = document.elementFromPoint(pointer.clientX, pointer.clientY)?.closest("td[data-day]");
      if (cell && this.board.contains(cell)) this.aim(cell);
    };
    const hold = (touch) => touch.preventDefault();
    document.addEventListener("pointermove", over, ending);
    document.addEventListener("touchmove", hold, { passive: false, signal: ending.signal });
    document.addEventListener("pointerup", () => { ending.abort(); this.putDown(); }, ending);
    document.addEventListener("pointercancel", () => { ending.abort(); this.leave(); }, ending);
  }
}
