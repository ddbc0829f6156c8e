// What a screen reader hears. Streamlit has no option for these, and draws parts of the page anew at any time.
(() => {
  if (window.headroomHeard) return;
  window.headroomHeard = true;
  const set = (one, name, value) => { if (one && one.getAttribute(name) !== value) one.setAttribute(name, value); };
  const mend = () => {
    // An icon stands beside words that say the same; its name is no word of the page.
    for (const icon of document.querySelectorAll('[data-testid="stIconMaterial"], p span[role="img"][translate="no"]')) {
      set(icon, "aria-hidden", "true");
    }
    // The answer is heard when it changes.
    const answer = document.querySelector(".st-key-answer");
    set(answer, "aria-live", "polite");
    set(answer, "aria-atomic", "true");
    // A question is a heading that unfolds.
    for (const title of document.querySelectorAll('[class*="st-key-section_"] > * > details > summary p')) {
      set(title, "role", "heading");
      set(title, "aria-level", "2");
    }
  };
  let waiting = 0;
  const soon = () => { waiting ||= setTimeout(() => { waiting = 0; mend(); }, 200); };
  new MutationObserver(soon).observe(document.body, { childList: true, subtree: true });
  mend();
})();
