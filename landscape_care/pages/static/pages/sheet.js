// Small things that pages do better with scripts; every one of them also works without.

import { carryVisits } from "./carrying.js";
import { copyAddresses } from "./copying.js";
import { openDialogs } from "./dialogs.js";
import { askBeforeLeaving } from "./leaving.js";
import { drawOutlines } from "./outlining.js";

function start(part) {
  openDialogs(part);
  copyAddresses(part);
  carryVisits(part);
  drawOutlines(part);
}

start(document);
askBeforeLeaving(document);
document.addEventListener("htmx:load", (loaded) => {
  if (loaded.detail.elt !== document.body) start(loaded.detail.elt);
});
