// A button that copies an address; it shows itself only where copying is possible.

export function copyAddresses(part) {
  if (!navigator.clipboard) return;
  for (const button of part.querySelectorAll("[data-copies]")) {
    button.hidden = false;
    button.addEventListener("click", async () => {
      const field = document.getElementById(button.dataset.copies);
      await navigator.clipboard.writeText(field.value);
      button.textContent = button.dataset.copied;
    });
  }
}
