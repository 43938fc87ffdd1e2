/* Forms: a refused form shows its summary first, and a form is sent once. */

/** Moves the focus to the summary of a refused form, so it is read out and seen. */
function focusSummary(root) {
  root.querySelector("[data-takes-focus]")?.focus();
}

/** Marks the pressed button busy and lets a second press do nothing until the page changes. */
function sendOnce(event) {
  const form = event.target;
  if (form.method !== "post" || event.defaultPrevented) return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  event.submitter?.setAttribute("aria-busy", "true");
}

/** Back from the browser's cache the page is alive again, so its forms may be sent again. */
function wake(root) {
  for (const form of root.querySelectorAll("form[data-sent]")) {
    delete form.dataset.sent;
    for (const button of form.querySelectorAll("[aria-busy]")) button.removeAttribute("aria-busy");
  }
}

export function startForms(root) {
  focusSummary(root);
  root.addEventListener("submit", sendOnce);
  window.addEventListener("pageshow", (event) => event.persisted && wake(root));
}
