// Small things that the browser remembers; where it remembers nothing (private mode), the page works all the same.
export const remembered = (name) => { try { return localStorage.getItem(name); } catch { return null; } };
export const remember = (name, text) => { try { localStorage.setItem(name, text); } catch { /* it is asked for again the next time */ } };
