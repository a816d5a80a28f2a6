/* What is typed in a tool stands in its address. */
(function () {
  "use strict";
  Object.assign(window.dash_clientside.isohume, {
    /* An answer that was overtaken by a later one is dropped: it is for values that no longer stand in the fields. */
    workbench_answer: (answer, values) => {
      const none = window.dash_clientside.no_update;
      const current = answer && JSON.stringify(answer.values) === JSON.stringify(values);
      return current ? [answer.content, answer.faults] : [none, values.map(() => none)];
    },
    workbench_address: (values, picked, names) => {
      const query = new URLSearchParams();
      if (picked && picked[0]) query.set("frame", picked[0]);
      names.forEach((name, place) => {
        const value = values[place];
        if (value !== null && value !== undefined && value !== "") query.set(name.name, value);
      });
      const text = query.toString();
      // replaceState, and the Location told afterwards: the page is already what this address says.
      window.history.replaceState(window.history.state, "", window.location.pathname + (text ? "?" + text : "") + window.location.hash);
      window.dash_clientside.set_props("url", { search: window.location.search, href: window.location.href });
      return window.dash_clientside.no_update;
    },
  });
})();
