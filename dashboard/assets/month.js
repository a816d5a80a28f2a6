/* The frames of a month's review, the decisions noted for them, and the files behind them. */
(function () {
  "use strict";
  const isohume = window.isohume;
  const element = isohume.element;
  const SHOW_FIRST = 40; // rows of a table; a large collection has hundreds of files a month
  const FIND_FROM = 12; // frames from which on a search helps

  const image = (src, width, height, className, alt) => element("img", { src, width, height, class: className, alt: alt || "" });
  const token = () => decodeURIComponent((document.cookie.match(/(?:^|; )_csrf_token=([^;]*)/) || [])[1] || "");

  /** A table that scrolls by itself; its first column names the row. */
  const table = (caption, headings, rows, numericFrom) =>
    element("div", { class: "table-scroll", tabindex: "0", role: "region", "aria-label": caption },
      element("table", {},
        element("caption", {}, caption),
        element("thead", {}, element("tr", {}, headings.map((text, place) => (text ? element("th", { scope: "col", class: place >= numericFrom ? "number" : null }, text) : element("td", {}))))),
        element("tbody", {}, rows.map((row) => element("tr", {}, row.map((cell, place) =>
          place ? element("td", { class: place >= numericFrom ? "number" : null }, cell) : element("th", { scope: "row" }, cell)))))));

  const figures = (frame, headings) => table("Figures of " + frame.id, headings, frame.rows, 1);

  /* Decisions: each field is kept as soon as it is left. */
  let underway = 0;
  let line = Promise.resolve();
  /** One after the other: of two that pass each other, the older could arrive last and stay. */
  const keep = (...asked) => {
    underway += 1;
    hold(true);
    line = line.then(() => keepNow(...asked)).then(() => {
      underway -= 1;
      hold(underway > 0);
    });
  };
  const keepNow = async (month, frame, fields, told, after) => {
    const said = { frame: frame.id };
    for (const [name, field] of Object.entries(fields)) said[name] = field.value.trim();
    told.textContent = "keeping …";
    try {
      const answer = await fetch("/month/" + encodeURIComponent(month) + "/decision", {
        method: "POST", headers: { "Content-Type": "application/json", "X-CSRFToken": token() }, body: JSON.stringify(said),
      });
      told.textContent = answer.ok ? "kept" : "Not kept: " + (await answer.text()).slice(0, 300);
      told.classList.toggle("fault", !answer.ok);
      if (answer.ok) {
        Object.assign(frame.decision, said);
        after();
      }
    } catch {
      told.textContent = "Not kept: the server cannot be reached. Try again.";
      told.classList.add("fault");
    }
  };
  /** Nobody signs while a decision is still on its way. */
  const hold = (is) => { if (document.getElementById("month-sign")) window.dash_clientside.set_props("month-sign", { disabled: is }); };

  const field = (kind, name, label, frame, extra) => {
    const id = "month-" + name + "-" + frame.id;
    const made = element(kind, { id, class: "month-field", name, autocomplete: "off", ...extra });
    made.value = frame.decision[name] || "";
    return [element("label", { for: id }, label, element("span", { class: "unseen" }, " for " + frame.id)), made];
  };

  const decision = (list, frame, after) => {
    const said = frame.decision;
    const named = [said.who, said.by_date ? "by " + said.by_date : ""].filter(Boolean).join(", ");
    if (!list.writes) {
      return said.text || named
        ? element("p", { class: "month-decided" }, element("strong", {}, "Decision: "), said.text + (named ? " (" + named + ")" : ""))
        : null;
    }
    const [textLabel, text] = field("textarea", "text", "Decision or note", frame, { rows: "2", maxlength: "500" });
    const [whoLabel, who] = field("input", "who", "Who", frame, { type: "text", maxlength: "80" });
    const [byLabel, by] = field("input", "by_date", "Until", frame, { type: "date" });
    const told = element("span", { class: "month-kept", role: "status" }, said.noted_by ? "noted by " + said.noted_by : "");
    const fields = { text, who, by_date: by };
    for (const one of [text, who, by]) one.addEventListener("change", () => keep(list.month, frame, fields, told, after));
    const form = element("div", { class: "month-decision" },
      element("div", { class: "wide" }, element("div", { class: "month-label" }, textLabel, told), text),
      element("div", {}, whoLabel, who), element("div", {}, byLabel, by));
    if (frame.group !== "calm" || said.text || named) return form;
    return element("details", {}, element("summary", {}, "Note something", element("span", { class: "unseen" }, " for " + frame.id)), form);
  };

  const lines = (className, texts) => (texts.length ? element("ul", { class: className }, texts.map((text) => element("li", {}, text))) : null);

  const row = (list, frame, after) =>
    element("li", { class: "month-frame " + frame.tier + (frame.estimated ? " estimated" : "") },
      element("div", { class: "month-stands" },
        element("div", { class: "row-standing" },
          image(frame.sign, 30, 30, "sign"),
          element("div", {}, element("span", { class: "standing" }, frame.standing), element("span", { class: "due" }, frame.due),
            frame.was ? element("span", { class: "month-was" }, frame.was) : null)),
        element("p", { class: "month-record" }, image(frame.record_sign, 21, 16, "sign"), " record " + frame.record),
        image(frame.picture, 312, 64, "small-picture", frame.picture_words)),
      element("div", { class: "month-words" },
        element("h3", {},
          element("a", { href: frame.address },
            element("span", { class: "frame-id" }, frame.id + " "), element("em", {}, frame.title), element("span", { class: "support" }, frame.support))),
        element("p", { class: "row-note" }, frame.place + (frame.estimated ? " · no logger inside" : "")),
        element("div", { class: "month-body" },
          element("div", {},
            figures(frame, list.headings),
            frame.outlook ? element("p", { class: "month-outlook" }, frame.outlook) : null,
            lines("month-reasons", [...frame.reasons, ...frame.doubts])),
          element("div", { class: "month-next" },
            frame.next_step ? element("p", { class: "row-note" }, frame.next_step) : null,
            frame.decided_before ? element("p", { class: "month-before" }, frame.decided_before) : null,
            lines("month-events", frame.events))),
        decision(list, frame, after)));

  const group = ({ title, lede }, members) =>
    element("section", { class: "group" },
      element("div", { class: "group-head" },
        element("h3", {}, title + " ", element("span", { class: "count" }, String(members.length))), element("p", {}, lede)),
      element("ul", { class: "frame-list" }, members));

  const drawPlanned = (list) => {
    const place = document.getElementById("month-planned");
    if (!place) return;
    const planned = list.frames.filter((frame) => frame.decision.text || frame.decision.who || frame.decision.by_date)
      .sort((a, b) => (a.decision.by_date || "9").localeCompare(b.decision.by_date || "9") || a.id.localeCompare(b.id));
    const rows = planned.map((frame) => [frame.id, frame.decision.text || "–", frame.decision.who || "nobody named", frame.decision.by_date || "no date"]);
    place.replaceChildren(rows.length
      ? table("Decisions of this review, the earliest first", ["Frame", "What", "Who", "Until"], rows, 9)
      : element("p", { class: "no-result" }, element("strong", {}, "Nothing. "), "No decision is noted in this review."));
  };

  const drawFiles = (list) => {
    const place = document.getElementById("month-files");
    if (!place) return;
    if (!list.files.length) {
      place.replaceChildren(element("p", { class: "no-result" }, element("strong", {}, "None. "), "No file holds readings of this month."));
      return;
    }
    const draw = (n) => {
      const more = list.files.length - n;
      const caption = "Files with readings of this month" + (more > 0 ? ", " + n + " of " + list.files.length : "");
      const button = more > 0 ? element("button", { type: "button", class: "text-button" }, "Show " + more + " more") : null;
      if (button) button.addEventListener("click", () => draw(list.files.length));
      place.replaceChildren(...[table(caption, list.file_headings, list.files.slice(0, n), 4), button && element("p", { class: "older" }, button)].filter(Boolean));
    };
    draw(Math.min(SHOW_FIRST, list.files.length));
  };

  const drawFrames = (container, list) => {
    const after = () => drawPlanned(list);
    // Made once, so that what is typed stays while the list is searched.
    const made = new Map(list.frames.map((frame) => [frame.id, row(list, frame, after)]));
    const draw = (words) => {
      const wanted = list.frames.filter((frame) => words.every((word) => frame.told.includes(word)));
      const parts = list.groups.map((one) => [one, wanted.filter((frame) => frame.group === one.key)]).filter(([, members]) => members.length)
        .map(([one, members]) => group(one, members.map((frame) => made.get(frame.id))));
      shown.replaceChildren(...(parts.length ? parts : [element("p", { class: "no-result" }, "No frame fits. Clear the search.")]));
    };
    const shown = element("div", {});
    isohume.followWithin(shown);
    const search = element("input", { id: "month-find", type: "search", class: "month-field", placeholder: "frame, painting, room or standing", autocomplete: "off" });
    search.addEventListener("input", () => draw(search.value.toLowerCase().split(/\s+/).filter(Boolean)));
    container.replaceChildren(...(list.frames.length >= FIND_FROM ? [element("p", { class: "month-find" }, element("label", { for: "month-find" }, "Find a frame"), search)] : []), shown);
    draw([]);
  };

  Object.assign(window.dash_clientside.isohume, {
    draw_month: (list) => {
      const draw = () => {
        const container = document.getElementById("month-frames");
        if (!container || !document.getElementById("month-planned") || !document.getElementById("month-files")) {
          window.requestAnimationFrame(draw); // not on the page yet
          return;
        }
        drawFrames(container, list);
        drawPlanned(list);
        drawFiles(list);
      };
      if (list) draw();
      return window.dash_clientside.no_update;
    },
  });
})();
