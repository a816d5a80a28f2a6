/* The few things that only the browser can do: the window's title, and an address that can be shared. */
(function () {
  "use strict";
  const replaceQuery = (pairs) => {
    const query = new URLSearchParams();
    for (const [name, value] of pairs) {
      if (value !== null && value !== undefined && value !== "" && value.length !== 0) query.set(name, value);
    }
    const text = query.toString();
    // replaceState, not the Location component: the page is already what this address says.
    window.history.replaceState(window.history.state, "", window.location.pathname + (text ? "?" + text : "") + window.location.hash);
  };
  /** Change some pairs of the query and leave the others. */
  const changeQuery = (changed) => {
    const held = new URLSearchParams(window.location.search);
    for (const [name, value] of changed) {
      if (value) held.set(name, value);
      else held.delete(name);
    }
    replaceQuery([...held.entries()]);
  };
  const minute = (seconds) => new Date(Math.round(seconds / 60) * 60000).toISOString().slice(0, 16) + "Z";

  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.isohume = {
    arrive: (title) => {
      if (title) document.title = title;
      document.querySelectorAll("#navigation a").forEach((link) => {
        if (link.classList.contains("here")) link.setAttribute("aria-current", "page");
        else link.removeAttribute("aria-current");
      });
      const target = window.location.hash && document.getElementById(window.location.hash.slice(1));
      if (target) window.setTimeout(() => target.scrollIntoView(), 50);
      return window.dash_clientside.no_update;
    },
    zone_here: (_known, chosen) => chosen || Intl.DateTimeFormat().resolvedOptions().timeZone,
    files_address: (show, logger) => {
      changeQuery([["show", show === "all" ? "" : show], ["logger", logger]]);
      return window.dash_clientside.no_update;
    },
    draw_frames: (list, q, standings, room, sort) => {
      window.isohume.drawFrames(list, q, standings, room, sort);
      replaceQuery([["q", q], ["show", (standings || []).join(",")], ["room", room], ["sort", sort === "urgency" ? "" : sort]]);
      return window.dash_clientside.no_update;
    },
    draw_excursions: (list) => {
      window.isohume.drawExcursions(list);
      return window.dash_clientside.no_update;
    },
    window_address: (window_, period) => {
      if (window_) changeQuery(period ? [["from", ""], ["to", ""]] : [["from", minute(window_[0])], ["to", minute(window_[1])]]);
      return window.dash_clientside.no_update;
    },
    findings_ended: (ended) => {
      if (!ended) return window.dash_clientside.no_update;
      const button = document.getElementById("findings-show");
      // Whoever is filling in a form is not interrupted: the page is built anew when asked.
      if (document.querySelector(".add-in-place[open]") && button) {
        button.hidden = false;
        button.onclick = () => window.dash_clientside.set_props("work-ended", { data: ended });
      } else window.dash_clientside.set_props("work-ended", { data: ended });
      return ended;
    },
    terms_address: (terms, air, period) => {
      changeQuery([["terms", terms], ["air", air], ["period", period]]);
      return window.dash_clientside.no_update;
    },
  };
})();
