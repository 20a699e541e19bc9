// Signing out wipes what a phone keeps of the company; where notes are not sent yet it asks first.

import { countUnsent, wipe } from "./crew_queue.js";

export function askBeforeLeaving(part) {
  if (!globalThis.indexedDB) return;
  for (const form of part.querySelectorAll("form[data-leaves]")) {
    form.addEventListener("submit", async (submit) => {
      submit.preventDefault();
      const unsent = await countUnsent().catch(() => 0);
      if (unsent && !confirm(form.dataset.leaves.replace("{count}", unsent))) return;
      await wipe().catch(() => {});
      form.submit();
    });
  }
}
