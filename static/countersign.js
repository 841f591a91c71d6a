"use strict";

// Every page works without this file. It only eases and guards:
// a left page keeps nothing, a second press sends nothing twice, fields that are not asked are dimmed,
// and a page whose session has ended is emptied.

const SENT_FOR_MS = 8000;
const SAY_SO_EVERY_MS = 60000;
const WARN_BEFORE_MS = 60000;
const ASK_EVERY_MS = 1000;

function empty(says) {
  for (const field of document.querySelectorAll("input, textarea, select")) {
    if (field.type === "radio" || field.type === "checkbox") {
      field.checked = false;
    } else {
      field.value = "";
    }
  }
  const line = document.createElement("p");
  line.className = "emptied";
  line.textContent = says;
  document.body.replaceChildren(line);
  return line;
}

// The browser may keep a left page in memory and show it, typed values included, to whoever goes back.
window.addEventListener("pagehide", () => empty(""));
window.addEventListener("pageshow", (event) => {
  if (event.persisted) {
    window.location.reload();
  }
});

// A double press sends once. After a while, or after coming back, the form can be sent again.
function guardDoubleSend(form) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    const buttons = form.querySelectorAll("button");
    buttons.forEach((button) => button.setAttribute("aria-disabled", "true"));
    window.setTimeout(() => {
      delete form.dataset.sent;
      buttons.forEach((button) => button.removeAttribute("aria-disabled"));
    }, SENT_FOR_MS);
  });
}

// What another answer makes idle is out of the way, unless something stands in it: that is dimmed, never cleared.
function answerOf(form, name) {
  if (form.querySelector(`[name="${name}_none"]:checked`)) {
    return "none";
  }
  const field = form.querySelector(`input[type=text][name="${name}"], select[name="${name}"]`);
  if (field) {
    return field.value ? "value" : "";
  }
  const chosen = form.querySelector(`[name="${name}"]:checked`);
  return chosen ? chosen.value : "";
}

function dimIdle(form) {
  // What comes and goes by itself need not say when it is asked for.
  form.classList.add("eased");
  for (const row of form.querySelectorAll("[data-decided-by]")) {
    const answer = answerOf(form, row.dataset.decidedBy);
    row.classList.toggle("idle", !row.dataset.askedFor.split(" ").includes(answer));
  }
}

// With keys alone one comes by what is still open, no more: not by *none* beside a value, not by the units of no number,
// and not by a blank field that another answer makes idle. A press of the pointer reaches all of it, and what is filled
// in stays in the way.
function setStops(form) {
  for (const row of form.querySelectorAll("[data-field]")) {
    const none = row.querySelector("[name$=_none]");
    const given = [...row.querySelectorAll("input[type=text], select")].some((each) => each.value);
    const chosen = row.querySelector(":checked:not(option)");
    const isLeftOut = row.classList.contains("idle") && !given && !chosen && !row.classList.contains("wrong");
    row.hidden = isLeftOut;
    for (const each of row.querySelectorAll("input, select")) {
      const isNoneBesideValue = each === none && given && !none.checked;
      const isUnitOfNothing = each.name.endsWith("_unit") && !given && !row.querySelector("[name$=_unit]:checked");
      each.tabIndex = isLeftOut || isNoneBesideValue || isUnitOfNothing ? -1 : 0;
    }
  }
}

// The line for another name is shown when it is asked for; what stands in it is never hidden.
function showOther(form) {
  for (const other of form.querySelectorAll("[data-other-of]")) {
    const select = form.querySelector(`select[name="${other.dataset.otherOf}"]`);
    other.hidden = select.value !== "other" && other.querySelector("input").value === "";
  }
}

// What was written or chosen by mistake can be taken back: blank means not read.
function offerClearing(row) {
  const choices = row.querySelectorAll("input[type=radio], input[type=checkbox]");
  const texts = row.querySelectorAll("input[type=text]");
  if (!row.dataset.field || choices.length + texts.length === 0) {
    return;
  }
  const button = document.createElement("button");
  button.type = "button";
  button.className = "plain clear";
  button.textContent = "Clear";
  // With keys alone it is cleared where it stands: one stop less on the way from field to field.
  button.tabIndex = -1;
  button.setAttribute("aria-keyshortcuts", "Delete");
  const legend = row.querySelector(".label");
  button.setAttribute("aria-label", `Clear ${legend ? legend.textContent : ""}`);
  const show = () => {
    button.hidden = ![...choices].some((choice) => choice.checked) && ![...texts].some((text) => text.value);
  };
  const clear = (then) => {
    choices.forEach((choice) => {
      choice.checked = false;
    });
    texts.forEach((text) => {
      text.value = "";
    });
    show();
    then.dispatchEvent(new Event("change", { bubbles: true }));
    then.focus();
  };
  button.addEventListener("click", () => clear(texts[0] || choices[0]));
  row.addEventListener("keydown", (event) => {
    if (["Delete", "Backspace"].includes(event.key) && event.target.matches("input[type=radio], input[type=checkbox]")) {
      event.preventDefault();
      clear(event.target);
    }
  });
  row.addEventListener("input", show);
  row.addEventListener("change", show);
  show();
  row.querySelector(".controls").append(button);
}

// Who waits is led on as soon as there is more to do; without this file one presses Refresh. Asking says nothing of
// whether anybody is there: the session of someone who has left ends in its time. Nothing is taken from who writes.
function refreshes(status) {
  let isAsking = false;
  const end = () => {
    window.clearInterval(timer);
    document.querySelectorAll(".by-itself").forEach((words) => words.remove());
  };
  const timer = window.setInterval(async () => {
    if (isAsking) {
      return;
    }
    isAsking = true;
    const answer = await fetch(status.dataset.refresh, { cache: "no-store" }).catch(() => null);
    isAsking = false;
    if (!status.isConnected) {
      end();
    } else if (answer && answer.status === 200 && document.querySelector(".by-itself")) {
      end();
      window.location.reload();
    }
  }, ASK_EVERY_MS * (status.dataset.every || 1));
  document.addEventListener("input", end);
  // Whoever has pressed a link is on the way there: to load this page again now would take that back.
  window.addEventListener("beforeunload", end);
}

// Somebody who is writing is not away: the session is told so, at most once a minute. When it has ended all the same,
// the page is emptied, as it would be at the next press.
function keepSession(idleMs) {
  let seen = Date.now();
  let wrote = false;
  const note = () => {
    wrote = true;
  };
  document.addEventListener("input", note);
  document.addEventListener("change", note);
  const warning = document.createElement("div");
  warning.className = "notice away";
  warning.setAttribute("role", "alert");
  warning.hidden = true;
  const words = document.createElement("p");
  const keeps = document.querySelector("form[data-typing]");
  words.textContent = "You will be signed out in less than a minute. " +
    (keeps ? "What you wrote here is kept for you." : "What you have not sent will be gone.");
  const stay = document.createElement("button");
  stay.type = "button";
  stay.textContent = "Stay signed in";
  warning.append(words, stay);
  document.body.append(warning);

  async function here() {
    wrote = false;
    const answer = await fetch("/here", { redirect: "manual", cache: "no-store" }).catch(() => null);
    if (answer && answer.status === 204) {
      seen = Date.now();
      warning.hidden = true;
    }
  }

  function look() {
    const away = Date.now() - seen;
    if (away > idleMs) {
      const line = empty("You were signed out. ");
      const link = document.createElement("a");
      const asked = window.location.pathname + window.location.search;
      link.href = `/sign-in?then=${encodeURIComponent(asked)}`;
      link.textContent = keeps ? "Sign in again; what you wrote is still there." : "Sign in again.";
      line.append(link);
      window.clearInterval(timer);
      return;
    }
    if (wrote && away > Math.min(SAY_SO_EVERY_MS, idleMs / 2)) {
      here();
    }
    warning.hidden = away < idleMs - Math.min(WARN_BEFORE_MS, idleMs / 2);
  }

  stay.addEventListener("click", here);
  const timer = window.setInterval(look, 1000);
}

document.addEventListener("DOMContentLoaded", () => {
  // Where a page answers a form, going back to it or loading it again asks for it anew and sends nothing twice: else the
  // browser puts a warning of its own in its place.
  window.history.replaceState(null, "");
  document.querySelectorAll("form").forEach((form) => {
    guardDoubleSend(form);
    const follow = () => {
      dimIdle(form);
      setStops(form);
      showOther(form);
    };
    form.addEventListener("input", follow);
    form.addEventListener("change", follow);
    follow();
  });
  document.querySelectorAll("fieldset.row").forEach(offerClearing);
  document.querySelectorAll(".with-script").forEach((words) => {
    words.hidden = false;
  });
  document.querySelectorAll("[data-refresh]").forEach(refreshes);
  document.querySelectorAll("[data-print]").forEach((button) => {
    button.addEventListener("click", () => window.print());
  });
  const idle = Number(document.body.dataset.idleSeconds);
  if (idle) {
    keepSession(idle * 1000);
  }
  // The summary of what to put right takes the focus, so that it is read out first.
  // Else the keyboard begins at the field that the page names; on a page that names none, at the top of its main part,
  // where nothing is pressed by mistake: one stop back is the way to stop the device.
  const summary = document.querySelector("main .faults");
  if (summary) {
    summary.focus();
  } else if (!document.querySelector("[autofocus]") && !window.location.hash) {
    document.querySelector("main")?.focus({ preventScroll: true });
  }
});
