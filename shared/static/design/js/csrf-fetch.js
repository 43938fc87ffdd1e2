/* fetch() for our own API: sends the CSRF header and JSON, answers what came back. */

// A real deployment binds the cookie to its own host by its name; development has no https for that.
const NAMES = ["__Host-csrftoken=", "csrftoken="];

/** The CSRF token from its cookie, or "" when there is none. */
export function csrfToken(cookies = document.cookie) {
  const pairs = cookies.split("; ");
  for (const name of NAMES) {
    const pair = pairs.find((part) => part.startsWith(name));
    if (pair) return decodeURIComponent(pair.slice(name.length));
  }
  return "";
}

/**
 * Sends `body` as JSON. Resolves to { ok, status, data } for every answer of the server,
 * data being null when the answer was not JSON; rejects only when no answer came.
 */
export async function csrfFetch(url, { method = "POST", body, signal, keepalive } = {}) {
  const response = await fetch(url, {
    method,
    signal,
    keepalive,
    credentials: "same-origin",
    headers: { "Content-Type": "application/json", Accept: "application/json", "X-CSRFToken": csrfToken() },
    body: body === undefined ? undefined : JSON.stringify(body),
  });
  const isJson = (response.headers.get("Content-Type") ?? "").includes("json");
  return { ok: response.ok, status: response.status, data: isJson ? await response.json() : null };
}
