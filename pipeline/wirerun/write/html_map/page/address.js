/*
 * What is chosen stands in the page's address, "map.html#B01-R012": such a link can be sent, and Back goes to what was
 * chosen before. Only the part behind "#" changes, which a page from a disk may do.
 */
export function createAddress(find, { go, shut }) {
  let now = "";

  function told() {
    try {
      return decodeURIComponent(window.location.hash.slice(1));
    } catch {
      return ""; // somebody wrote "%" and no number
    }
  }

  /* `again`: walking from post to post is one step for Back, not thirty. */
  function set(id, again) {
    if (id === now) {
      return;
    }
    now = id;
    const hash = `#${encodeURIComponent(id)}`;
    try {
      window.history[again ? "replaceState" : "pushState"](null, "", hash);
    } catch {
      // A page inside another (a notebook) may have no address of its own.
    }
  }

  function open() {
    const id = told();
    if (id === now) {
      return;
    }
    const thing = find(id);
    now = thing ? id : "";
    if (thing) {
      go(thing.kind, thing.index);
    } else {
      shut();
    }
  }

  window.addEventListener("popstate", open);
  window.addEventListener("hashchange", open);
  return { set, open };
}
