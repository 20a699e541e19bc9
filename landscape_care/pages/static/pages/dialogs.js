// Links marked data-dialog open their page in a dialog; without scripts they are ordinary links.

export function openDialogs(part) {
  const dialog = document.getElementById("dialog");
  if (!dialog || !dialog.showModal) return;
  for (const link of part.querySelectorAll("a[data-dialog]")) {
    link.addEventListener("click", (click) => {
      if (click.ctrlKey || click.metaKey || click.shiftKey) return;
      click.preventDefault();
      showInDialog(dialog, link.href);
    });
  }
  for (const button of part.querySelectorAll("[data-closes-dialog]")) {
    button.hidden = false;
    button.addEventListener("click", () => dialog.close());
  }
}

export async function showInDialog(dialog, address, form) {
  const sent = form ? { method: "POST", body: form } : {};
  const answer = await fetch(address, { ...sent, headers: { "HX-Request": "true" } });
  if (!answer.ok || answer.redirected) {
    window.location.assign(address);
    return;
  }
  dialog.innerHTML = await answer.text();
  window.htmx?.process(dialog);
  openDialogs(dialog);
  if (!dialog.open) dialog.showModal();
  dialog.querySelector("[autofocus]")?.focus();
}
