// Draw the outline of an area on the plan, by pointer or by keys; the numbers below say the same.
//
// A press on the sheet sets a corner, a corner is dragged with the pointer or carried with the arrow
// keys (a foot at a time, ten with Shift), Delete takes it away. Everything is written into the field
// of numbers, which is what the form sends; who writes numbers sees them drawn.

const SVG = "http://www.w3.org/2000/svg";
const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

export function drawOutlines(part) {
  const sheet = part.querySelector?.("[data-sheet]");
  const field = part.querySelector?.("[data-corners]");
  if (sheet && field) new Outline(sheet, field);
}

class Outline {
  constructor(sheet, field) {
    this.sheet = sheet;
    this.field = field;
    this.area = sheet.querySelector("[data-outline]");
    this.handles = sheet.querySelector("[data-handles]");
    this.radius = sheet.viewBox.baseVal.width / 60;
    sheet.classList.add("drawable");
    sheet.addEventListener("pointerdown", (press) => this.press(press));
    field.addEventListener("input", () => this.show());
    this.show();
  }

  corners() {
    const found = [...this.field.value.matchAll(/^\s*(-?\d+(?:\.\d+)?)\s*[,;\s]\s*(-?\d+(?:\.\d+)?)\s*$/gm)];
    return found.map(([, x, y]) => [Number(x), Number(y)]);
  }

  write(corners) {
    this.field.value = corners.map(([x, y]) => `${x}, ${y}`).join("\n");
    this.show();
  }

  show() {
    const corners = this.corners();
    this.area.setAttribute("points", corners.map(([x, y]) => `${x},${-y}`).join(" "));
    const held = [...this.handles.children].indexOf(document.activeElement);
    this.handles.replaceChildren(...corners.map((corner, at) => this.handle(corner, at)));
    if (held >= 0) this.handles.children[Math.min(held, corners.length - 1)]?.focus();
  }

  handle([x, y], at) {
    const dot = document.createElementNS(SVG, "circle");
    const said = this.sheet.dataset.corner.replace("{number}", at + 1).replace("{x}", x).replace("{y}", y);
    for (const [name, value] of Object.entries({
      cx: x, cy: -y, r: this.radius, class: "corner", tabindex: 0, role: "button", "aria-label": said,
    })) dot.setAttribute(name, value);
    dot.addEventListener("keydown", (key) => this.key(key, at));
    dot.addEventListener("pointerdown", (press) => this.drag(press, at));
    return dot;
  }

  place(pointer) {
    const at = new DOMPoint(pointer.clientX, pointer.clientY).matrixTransform(
      this.sheet.getScreenCTM().inverse(),
    );
    return [Math.round(at.x * 2) / 2, Math.round(-at.y * 2) / 2];
  }

  press(press) {
    if (press.button !== 0) return;
    this.write([...this.corners(), this.place(press)]);
  }

  drag(press, at) {
    press.stopPropagation();
    press.preventDefault();
    const move = (pointer) => {
      const corners = this.corners();
      corners[at] = this.place(pointer);
      this.write(corners);
    };
    const end = () => {
      window.removeEventListener("pointermove", move);
      window.removeEventListener("pointerup", end);
      this.handles.children[at]?.focus();
    };
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", end);
  }

  key(key, at) {
    const corners = this.corners();
    if (key.key === "Delete" || key.key === "Backspace") corners.splice(at, 1);
    else if (KEYS[key.key]) {
      const [x, y] = KEYS[key.key];
      const far = key.shiftKey ? 10 : 1;
      corners[at] = [corners[at][0] + x * far, corners[at][1] + y * far];
    } else return;
    key.preventDefault();
    this.write(corners);
  }
}
