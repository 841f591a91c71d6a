"use strict";

// What is typed is kept at the server while it is typed, sealed and for its author alone: a lost connection, an ended
// session or an empty battery loses none of it. It counts for nothing until it is kept by a press.

const QUIET_FOR_MS_BEFORE_KEEPING = 500;
const TRY_AGAIN_AFTER_MS = 5000;
const ANSWER_WITHIN_MS = 5000;

function keepTyping(form) {
  let timer = 0;
  let unkept = false;
  let failed = false;
  let sending = null;
  let letThrough = false;
  const line = document.createElement("p");
  line.className = "notice";
  line.setAttribute("role", "alert");
  line.hidden = true;
  form.querySelector(".actions").before(line);

  function says(words) {
    line.textContent = words;
    line.hidden = words === "";
  }

  function later(delay) {
    window.clearTimeout(timer);
    timer = window.setTimeout(keep, delay);
  }

  async function sent() {
    unkept = false;
    const answer = await fetch(form.dataset.typing, {
      method: "POST",
      body: new URLSearchParams(new FormData(form)),
      redirect: "manual",
      cache: "no-store",
      keepalive: true,
      signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
    }).catch(() => null);
    if (answer && answer.type === "opaqueredirect") {
      // The session has ended: the page is left as at the next press, and what was typed waits for its author.
      window.location.reload();
      return false;
    }
    failed = !answer || answer.status >= 500;
    if (failed) {
      unkept = true;
      says("No connection: what you write here is not kept yet. Stay on this page; it is tried again.");
      later(TRY_AGAIN_AFTER_MS);
      return false;
    }
    // It was kept on another page, or somebody saw danger in this source: the press shows which.
    says(answer.status === 409 ? "What you write here is not kept: something has changed. Go on to see what." : "");
    return true;
  }

  // One at a time, so that what was typed last is also the last to arrive.
  async function keep() {
    window.clearTimeout(timer);
    while (sending) {
      await sending;
    }
    if (!unkept || !form.isConnected) {
      return true;
    }
    sending = sent();
    const done = await sending;
    sending = null;
    return done;
  }

  function note() {
    unkept = true;
    later(QUIET_FOR_MS_BEFORE_KEEPING);
  }

  form.addEventListener("input", note);
  // Also when a field was cleared or filled in by a scan, which says no input.
  form.addEventListener("change", note);
  if ("filled" in form.dataset) {
    // What a scan has filled in was not typed.
    unkept = true;
    keep();
  }
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") {
      keep();
    }
  });
  // There is no later for a page that is left.
  window.addEventListener("beforeunload", () => {
    if (unkept) {
      sent();
    }
  });

  // Without a connection the press would lead to a page of the browser's own, and what stands here would be gone.
  form.addEventListener("submit", async (event) => {
    if (letThrough || (navigator.onLine && !failed)) {
      window.clearTimeout(timer);
      unkept = letThrough = false;
      return;
    }
    event.preventDefault();
    event.stopImmediatePropagation();
    unkept = true;
    if (await keep()) {
      letThrough = true;
      form.requestSubmit(event.submitter);
    } else if (!line.hidden) {
      says("No connection: nothing was sent. What you wrote stands here; press again when the connection is back.");
    }
  }, true);
}

document.addEventListener("DOMContentLoaded", () => {
  document.querySelectorAll("form[data-typing]").forEach(keepTyping);
});
