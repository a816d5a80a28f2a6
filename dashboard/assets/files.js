/* Files are sent one after the other, each as the body of its own request; dropped folders are looked through. */
(function () {
  "use strict";
  const LARGEST = 200e6;
  const TELL_EVERY_MS = 1000;
  const say = (text) => { const place = document.getElementById("files-progress"); if (place) place.textContent = text; };
  const token = () => (document.cookie.match(/(?:^|; )_csrf_token=([^;]*)/) || [])[1] || "";
  const changed = () => window.dash_clientside.set_props("files-changed", { data: String(Date.now()) });
  const send = (file, before) => new Promise((done) => {
    if (file.size > LARGEST) return done(file.name + " is larger than 200 MB and was not sent.");
    const asked = new XMLHttpRequest();
    asked.open("POST", "/files/receive");
    asked.setRequestHeader("X-CSRFToken", decodeURIComponent(token()));
    asked.setRequestHeader("X-File-Name", encodeURIComponent(file.name));
    asked.setRequestHeader("Content-Type", "application/octet-stream");
    asked.upload.onprogress = (told) => say(before + file.name + " · " + Math.round((100 * told.loaded) / Math.max(1, told.total)) + " %");
    asked.onload = () => done(asked.status === 200 ? "" : file.name + " was not taken: " + asked.responseText.slice(0, 200));
    asked.onerror = () => done(file.name + " did not arrive: the server cannot be reached.");
    asked.send(file);
  });
  const queue = [];
  let sending = false, sent = 0, total = 0, faults = [];
  const sendAll = async (files) => {
    total += files.length;
    queue.push(...files);
    if (sending) return; // what was dropped meanwhile joins the queue
    sending = true;
    let told = 0;
    while (queue.length) {
      const fault = await send(queue.shift(), sent + faults.length + 1 + " of " + total + ": ");
      if (fault) faults.push(fault); else sent += 1;
      if (Date.now() - told > TELL_EVERY_MS) { told = Date.now(); changed(); }
    }
    const shown = faults.slice(0, 5).concat(faults.length > 5 ? ["and " + (faults.length - 5) + " more."] : []);
    say([total ? sent + " of " + total + " received." : "Nothing in there to send.", ...shown].join(" "));
    sending = false; sent = 0; total = 0; faults = [];
    changed();
  };
  const fileOf = (entry) => new Promise((done) => entry.file(done, () => done(null)));
  const entriesOf = (reader) => new Promise((done) => reader.readEntries(done, () => done([])));
  /** All files below a dropped entry, folders within folders as well; hidden ones (.DS_Store) are no logger's. */
  const filesOf = async (entry) => {
    if (entry.name.startsWith(".")) return [];
    if (entry.isFile) { const file = await fileOf(entry); return file ? [file] : []; }
    const found = [], reader = entry.createReader();
    for (let some = await entriesOf(reader); some.length; some = await entriesOf(reader)) { // a reader gives 100 at a time
      for (const one of some) found.push(...(await filesOf(one)));
    }
    return found;
  };
  const within = (event) => event.target.closest && event.target.closest("#files-drop");
  document.addEventListener("dragover", (event) => { if (within(event)) { event.preventDefault(); within(event).classList.add("over"); } });
  document.addEventListener("dragleave", (event) => { if (within(event)) within(event).classList.remove("over"); });
  document.addEventListener("drop", async (event) => {
    if (!within(event)) return;
    event.preventDefault();
    within(event).classList.remove("over");
    // Both lists end with the event: they are taken before anything is waited for.
    const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry()).filter(Boolean);
    const plain = [...event.dataTransfer.files];
    if (!entries.length) return sendAll(plain);
    say("Looking what was dropped …");
    const found = [];
    for (const entry of entries) found.push(...(await filesOf(entry)));
    sendAll(found);
  });
  document.addEventListener("click", (event) => {
    if (!event.target.closest || !event.target.closest("#files-choose")) return;
    const input = document.createElement("input");
    input.type = "file";
    input.multiple = true;
    input.addEventListener("change", () => sendAll([...input.files]));
    input.click();
  });
})();
