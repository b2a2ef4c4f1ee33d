// What is said until the page is there, and when it no longer answers.
(() => {
  "use strict";
  const LATE_MS = 20000;
  const ASK_MS = 5000;
  // How often the page is loaded anew by itself, and where that is counted.
  const MOST_AGAIN = 3;
  const AGAIN = "leakdx-again";
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

  // The desk itself, and not what stands in its place while it loads; or why there is none.
  function appeared() {
    const found = document.querySelector("#desk .ldx-desk, #desk .failed");
    return Boolean(found && found.getClientRects().length);
  }

  // The widget manager gives up after two seconds, which a busy computer may well need.
  function gaveUp() {
    const desk = part("desk");
    return Boolean(desk && desk.textContent.includes("Error displaying widget"));
  }

  function again() {
    there = true;
    const before = Number(sessionStorage.getItem(AGAIN)) || 0;
    if (before >= MOST_AGAIN) return lost();
    sessionStorage.setItem(AGAIN, String(before + 1));
    return location.reload();
  }

  function look() {
    if (there) return;
    if (gaveUp()) return void again();
    if (!appeared()) return;
    there = true;
    sessionStorage.removeItem(AGAIN);
    part("waiting").hidden = true;
  }

  function lost() {
    say(
      "The page no longer answers.",
      "Reload it: everything that was saved is there, and what was not is sent again.",
      there,
    );
  }

  function silence() {
    say(
      "leakdx does not answer.",
      "Was it stopped? Start it again in its terminal (leakdx open --page); "
        + "everything that was saved is there.",
      there,
    );
  }

  // Asks the server itself: a socket may stay open for long after what it led to is gone.
  async function ask(id) {
    try {
      const answer = await fetch(`/api/kernels/${id}`, { cache: "no-store" });
      return answer.ok ? "there" : "gone";
    } catch {
      return "silent";
    }
  }

  async function follow() {
    const told = part("jupyter-config-data");
    const id = told && JSON.parse(told.textContent).kernelId;
    if (!id) return;
    let silent = 0;
    for (;;) {
      await new Promise((resolve) => setTimeout(resolve, ASK_MS));
      const answer = await ask(id);
      if (answer === "gone") return lost();
      if (answer === "silent") {
        silent += 1;
        // One answer that does not come is not worth a word.
        if (silent === 2) silence();
      } else {
        if (silent > 1 && there) part("waiting").hidden = true;
        silent = 0;
      }
    }
  }

  // A kernel that broke down is begun anew under its old name, and knows nothing of this page.
  function heed() {
    const app = window.jupyterapp;
    if (!app) return void setTimeout(heed, 300);
    app.widgetManagerPromise.promise.then((manager) => {
      manager.kernel.statusChanged.connect((_, status) => {
        if (["restarting", "autorestarting", "dead"].includes(status)) lost();
      });
    });
  }

  // Called by the program of the page.
  window.voila_finish = look;

  // At once: the rest of the page comes only when the kernel has answered, and it may not.
  document.addEventListener("click", (event) => {
    if (event.target.id === "reload") location.reload();
  });
  new MutationObserver(look).observe(document, { childList: true, subtree: true });
  document.addEventListener("DOMContentLoaded", () => {
    follow();
    heed();
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
