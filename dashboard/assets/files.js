/* Files are sent one after the other, each as the body of its own request. */
(function () {
  "use strict";
  const LARGEST = 200e6;
  const say = (text) => { const place = document.getElementById("files-progress"); if (place) place.textContent = text; };
  const token = () => (document.cookie.match(/(?:^|; )_csrf_token=([^;]*)/) || [])[1] || "";
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
  const sendAll = async (files) => {
    const faults = [];
    for (let place = 0; place < files.length; place += 1) {
      const fault = await send(files[place], place + 1 + " of " + files.length + ": ");
      if (fault) faults.push(fault);
      window.dash_clientside.set_props("files-changed", { data: String(Date.now()) });
    }
    say([files.length - faults.length + " of " + files.length + " received.", ...faults].join(" "));
  };
  const within = (event) => event.target.closest && event.target.closest("#files-drop");
  document.addEventListener("dragover", (event) => { if (within(event)) { event.preventDefault(); within(event).classList.add("over"); } });
  document.addEventListener("dragleave", (event) => { if (within(event)) within(event).classList.remove("over"); });
  document.addEventListener("drop", (event) => {
    if (!within(event)) return;
    event.preventDefault();
    within(event).classList.remove("over");
    sendAll([...event.dataTransfer.files]);
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
