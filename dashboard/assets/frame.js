/* A photograph is sent as the body of its own request; the terms that are looked at stand in the address. */
(function () {
  "use strict";
  const LARGEST = 20e6;
  const field = (id) => (document.getElementById(id) || {}).value || "";
  const say = (text) => { const place = document.getElementById("frame-photograph-told"); if (place) place.textContent = text; };
  const token = () => (document.cookie.match(/(?:^|; )_csrf_token=([^;]*)/) || [])[1] || "";

  const send = async (file) => {
    if (file.size > LARGEST) return say(file.name + " is larger than 20 MB and was not sent.");
    const frame = decodeURIComponent(window.location.pathname.split("/")[2] || "");
    const asked = new URLSearchParams({ frame, time: field("frame-photograph-time").trim().replace(/^(\d{4}-\d\d-\d\d) +/, "$1T"), note: field("frame-photograph-note") });
    say("Sending " + file.name + " …");
    try {
      const answer = await fetch("/frame-photographs?" + asked, {
        method: "POST",
        body: file,
        headers: { "X-CSRFToken": decodeURIComponent(token()), "X-File-Name": encodeURIComponent(file.name), "Content-Type": "application/octet-stream" },
      });
      if (!answer.ok) return say("Not kept. " + (await answer.text()).replace(/<[^>]*>/g, " ").trim().slice(0, 300));
      say("Kept.");
      window.dash_clientside.set_props("work-ended", { data: "photograph " + Date.now() });
    } catch (error) {
      say("Not kept: the server cannot be reached.");
    }
  };

  document.addEventListener("click", (event) => {
    if (!event.target.closest || !event.target.closest("#frame-photograph-choose")) return;
    const input = document.createElement("input");
    input.type = "file";
    input.accept = "image/jpeg,image/png,image/webp";
    input.addEventListener("change", () => input.files.length && send(input.files[0]));
    input.click();
  });
})();
