/* The upload page of `journal receive`: sends the chosen files one after the other, with the token of the address, and
   shows each one's receipt code once the computer has gathered it. */
"use strict";

(() => {
  const token = location.hash.slice(1);
  const $ = (selector) => document.querySelector(selector);
  const rows = new Map(); // name -> {words, code}

  const say = (words) => {
    $("[data-why]").textContent = words;
    $("[data-why]").hidden = !words;
  };

  /** The token is of an earlier run: asking on would only stop the receiver, which counts wrong ones. */
  let asking = null;
  const stop = () => {
    clearInterval(asking);
    asking = null;
    $("[data-choose]").hidden = true;
    say("This address is of an earlier run of the receiver. Scan the QR code in the terminal again.");
  };

  const rowFor = (name) => {
    const item = document.createElement("li");
    item.className = "row";
    const box = document.createElement("div");
    box.className = "words";
    const title = document.createElement("p");
    title.textContent = name;
    const words = document.createElement("p");
    words.setAttribute("role", "status");
    const code = document.createElement("p");
    box.append(title, words, code);
    item.append(box);
    $("[data-sent]").append(item);
    const row = { words, code };
    rows.set(name, row);
    return row;
  };

  const SILENT = "The computer did not answer. Check that both are on the same network, then send it again.";

  /** Why a file is not taken, in the computer's words, or null where it is. */
  const refusal = async (file) => {
    const address = `/offer/${encodeURIComponent(file.name)}?bytes=${file.size}`;
    const answer = await fetch(address, { headers: { "Journal-Token": token } }).catch(() => null);
    if (answer?.status === 403) stop();
    return answer?.ok ? null : ((await answer?.text().catch(() => ""))?.trim() || SILENT);
  };

  const send = (file, row) =>
    new Promise((done) => {
      const request = new XMLHttpRequest();
      request.open("PUT", `/inbox/${encodeURIComponent(file.name)}`);
      request.setRequestHeader("Journal-Token", token);
      request.setRequestHeader("Content-Type", "application/octet-stream");
      request.upload.onprogress = ({ loaded, total }) => (row.words.textContent = `Sending, ${Math.floor((100 * loaded) / total)} %`);
      request.onload = () => {
        const isThere = request.status === 201;
        row.words.textContent = isThere ? "Received; waiting for the computer to gather it" : request.responseText.trim();
        if (isThere) rows.set(JSON.parse(request.responseText).name, row);
        if (request.status === 403) stop();
        done();
      };
      request.onerror = () => {
        row.words.textContent = SILENT;
        done();
      };
      request.send(file);
    });

  /** Asks first: a browser that is refused in the middle of sending does not tell why. */
  const offer = async (file) => {
    const row = rowFor(file.name);
    const why = await refusal(file);
    if (why) row.words.textContent = why;
    else await send(file, row);
  };

  const showCodes = ({ files }) => {
    for (const { name, code, left } of files) {
      if (left && rows.has(name)) rows.get(name).words.textContent = "Received, but not all of it is in the journal; the computer’s screen says why.";
      const row = code && rows.get(name);
      if (!row || row.code.hasChildNodes()) continue;
      row.words.textContent = "In the journal. Receipt code:";
      const shown = document.createElement("code");
      shown.textContent = code;
      row.code.append(shown);
      $("[data-codes-words]").hidden = false;
    }
  };

  const ask = async () => {
    if (![...rows.values()].some((row) => !row.code.hasChildNodes())) return;
    const answer = await fetch("/status", { headers: { "Journal-Token": token } }).catch(() => null);
    if (answer?.ok) showCodes(await answer.json());
    if (answer?.status === 403) stop();
  };

  if (token.length < 20) {
    say("The address has no token. Scan the QR code in the terminal again, or type the whole address.");
    return;
  }
  say("");
  $("[data-choose]").hidden = false;
  $("[data-files]").addEventListener("change", async ({ target }) => {
    const files = [...target.files];
    for (const file of files) if (asking) await offer(file);
    target.value = "";
  });
  asking = setInterval(ask, 2000);
})();
