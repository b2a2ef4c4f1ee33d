// What is said until the page is there, and when it no longer answers.
(() => {
  "use strict";
  const LATE_MS = 20000;
  // A connection that comes back by itself within this time is not worth a word.
  const AWAY_MS = 10000;
  let there = false;

  const part = (id) => document.getElementById(id);

  function say(said, more, over) {
    const box = part("waiting");
    box.hidden = false;
    box.classList.toggle("over", over);
    part("waiting-said").textContent = said;
    part("waiting-more").textContent = more;
    part("reload").hidden = false;
  }

  function appeared() {
    const cells = part("desk");
    if (!cells) return false;
    if (cells.querySelector(".failed")) return true;
    return [...cells.querySelectorAll("*")].some(
      (each) => each.tagName !== "SCRIPT" && each.getClientRects().length && each.childElementCount === 0
        && (each.textContent.trim() || each instanceof SVGElement || each.tagName === "BUTTON"),
    );
  }

  function look() {
    if (there || !appeared()) return;
    there = true;
    part("waiting").hidden = true;
  }

  function lost() {
    say(
      "The page no longer answers.",
      "Reload it: everything that was saved is there, and what was not is sent again. "
        + "If it stays away, start it again in the terminal: leakdx open --page",
      there,
    );
  }

  // The program of the page gives its widget manager once it has one.
  function follow() {
    const app = window.jupyterapp;
    if (!app) return void setTimeout(follow, 300);
    app.widgetManagerPromise.promise.then((manager) => {
      const kernel = manager && manager.kernel;
      if (!kernel) return lost();
      let away = 0;
      kernel.connectionStatusChanged.connect((_, status) => {
        clearTimeout(away);
        if (status === "disconnected") lost();
        else if (status === "connecting") away = setTimeout(lost, AWAY_MS);
        else if (there) part("waiting").hidden = true;
      });
      kernel.statusChanged.connect((_, status) => { if (status === "dead") lost(); });
    });
  }

  // Called by the program of the page.
  window.voila_finish = look;

  document.addEventListener("DOMContentLoaded", () => {
    part("reload").addEventListener("click", () => location.reload());
    new MutationObserver(look).observe(document.body, { childList: true, subtree: true });
    follow();
  });
  setTimeout(() => {
    look();
    if (!there) {
      say(
        "Nothing has appeared yet.",
        "Reload the page. If that does not help, stop leakdx in its terminal (Ctrl-C) and start it again.",
        false,
      );
    }
  }, LATE_MS);
})();
