/* Dialogs: <button data-opens="id"> opens <dialog id="id">; inside, data-closes closes it. */

export function startDialogs(root) {
  root.addEventListener("click", (event) => {
    const opener = event.target.closest("[data-opens]");
    if (opener) {
      const dialog = document.getElementById(opener.dataset.opens);
      if (dialog && !dialog.open) {
        event.preventDefault();
        dialog.showModal();
      }
      return;
    }
    const closer = event.target.closest("[data-closes]");
    if (closer) {
      event.preventDefault();
      closer.closest("dialog")?.close();
    }
  });
}
