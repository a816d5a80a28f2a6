/* The record of a venue is sent as the body of its own request; the page is built again when it has arrived. */
(function () {
  "use strict";
  const LARGEST = 50e6;
  const say = (text) => { const place = document.getElementById("loan-venue-progress"); if (place) place.textContent = text; };
  const token = () => (document.cookie.match(/(?:^|; )_csrf_token=([^;]*)/) || [])[1] || "";
  const send = (file) => {
    const place = document.getElementById("loan-venue-drop");
    if (!file || !place) return;
    if (file.size > LARGEST) return say(file.name + " is larger than 50 MB and was not sent.");
    const asked = new XMLHttpRequest();
    asked.open("POST", "/loans/venue-record");
    asked.setRequestHeader("X-CSRFToken", decodeURIComponent(token()));
    asked.setRequestHeader("X-File-Name", encodeURIComponent(file.name));
    asked.setRequestHeader("X-Loan", encodeURIComponent(place.dataset.loan));
    asked.setRequestHeader("Content-Type", "application/octet-stream");
    asked.upload.onprogress = (told) => say(file.name + " · " + Math.round((100 * told.loaded) / Math.max(1, told.total)) + " %");
    asked.onload = () => {
      if (asked.status !== 200) return say(file.name + " was not taken: " + asked.responseText.slice(0, 200));
      say(file.name + " received.");
      window.dash_clientside.set_props("work-ended", { data: "venue record " + Date.now() });
    };
    asked.onerror = () => say(file.name + " did not arrive: the server cannot be reached.");
    asked.send(file);
  };
  const within = (event) => event.target.closest && event.target.closest("#loan-venue-drop");
  document.addEventListener("dragover", (event) => { if (within(event)) { event.preventDefault(); within(event).classList.add("over"); } });
  document.addEventListener("dragleave", (event) => { if (within(event)) within(event).classList.remove("over"); });
  document.addEventListener("drop", (event) => {
    if (!within(event)) return;
    event.preventDefault();
    within(event).classList.remove("over");
    send(event.dataTransfer.files[0]);
  });
  document.addEventListener("click", (event) => {
    if (!event.target.closest || !event.target.closest("#loan-venue-choose")) return;
    const input = document.createElement("input");
    input.type = "file";
    input.addEventListener("change", () => send(input.files[0]));
    input.click();
  });
})();
