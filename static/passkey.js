"use strict";

// A passkey beside the secret: what the authenticator answers goes into the form, and the form is sent. Nothing is kept.

const ANSWERED = ["clientDataJSON", "attestationObject", "authenticatorData", "signature"];
// ES256 and RS256, which every authenticator has one of (COSE, RFC 9053).
const ALGORITHMS = [-7, -257];

function toBytes(text) {
  const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(plain, (sign) => sign.codePointAt(0));
}

function toText(bytes) {
  const plain = btoa(String.fromCodePoint(...new Uint8Array(bytes)));
  return plain.replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

async function challengeFor(act) {
  const answer = await fetch(`/passkey-challenge?for=${encodeURIComponent(act)}`, { cache: "no-store" });
  if (!answer.ok) {
    throw new Error("no challenge");
  }
  return toBytes(await answer.text());
}

async function ask(button) {
  const { passkey, host, person, name } = button.dataset;
  const challenge = await challengeFor(button.dataset.for);
  if (passkey === "give") {
    return navigator.credentials.get({
      publicKey: { challenge, rpId: host, userVerification: "discouraged" },
    });
  }
  return navigator.credentials.create({
    publicKey: {
      challenge,
      rp: { id: host, name: host },
      user: { id: new TextEncoder().encode(person), name, displayName: name },
      pubKeyCredParams: ALGORITHMS.map((alg) => ({ type: "public-key", alg })),
      // It is found by the host alone: whoever signs may be another than whoever is signed in.
      authenticatorSelection: { residentKey: "required", userVerification: "discouraged" },
      attestation: "none",
    },
  });
}

function written(credential) {
  const response = {};
  for (const part of ANSWERED) {
    if (credential.response[part]) {
      response[part] = toText(credential.response[part]);
    }
  }
  return JSON.stringify({ id: credential.id, rawId: credential.id, type: credential.type, response });
}

function offerPasskey(button) {
  const form = button.form;
  const says = document.createElement("p");
  says.className = "fault";
  says.setAttribute("role", "alert");
  says.hidden = true;
  button.after(says);
  button.hidden = false;
  button.addEventListener("click", async () => {
    says.hidden = true;
    button.disabled = true;
    try {
      form.elements.passkey.value = written(await ask(button));
      form.requestSubmit(form.querySelector("button.main"));
    } catch {
      says.hidden = false;
      says.textContent = "No passkey was given. Try again.";
    } finally {
      button.disabled = false;
    }
  });
}

document.addEventListener("DOMContentLoaded", () => {
  if (window.PublicKeyCredential) {
    document.querySelectorAll("button[data-passkey]").forEach(offerPasskey);
  }
});
