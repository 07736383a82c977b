"""A hidden helper widget that ties fields to the texts beside them, lets changes be heard, and gives keys back to the learner.

ipywidgets leaves a field without the words that explain it, and JupyterLab keeps some keys for its own commands. One `Accessible` at the end of a box with the class `fy-box` mends both for that box, and goes on
doing so: it watches the page instead of asking again and again.
"""

import anywidget
import traitlets

_SCRIPT = """
export default { render({ model, el }) {
  el.style.display = 'none';
  let root = null;
  const put = (node, name, value) => {
    if (value && node.getAttribute(name) !== value) node.setAttribute(name, value);
  };
  const mend = () => {
    root.querySelectorAll('.fy-live .widget-html-content').forEach(text => {
      put(text, 'role', 'status'); put(text, 'aria-live', 'polite'); put(text, 'aria-atomic', 'true');
    });
    root.querySelectorAll('.fy-ask').forEach(ask => {   // a field is described by the texts that stand with it
      const field = ask.querySelector('input, select'), texts = [...ask.querySelectorAll('.widget-html-content')];
      texts.forEach(text => { text.id = text.id || `fy-${Math.random().toString(36).slice(2)}`; });
      if (field) put(field, 'aria-describedby', texts.map(text => text.id).join(' '));
      if (field) put(field, 'aria-invalid', String(ask.classList.contains('fy-refused')));
    });
    root.querySelectorAll('.fy-chapters button').forEach(
      button => put(button, 'aria-current', String(button.classList.contains('fy-here'))));
    // JupyterLab looks at the focused element itself; on a parent the attribute has no effect
    root.querySelectorAll('[role=slider], input, select, button').forEach(
      node => put(node, 'data-lm-suppress-shortcuts', 'true'));
  };
  let last = null, soon = 0;   // where the keyboard was: when that is hidden, it goes on to the next place that can be seen
  const places = () => [...root.querySelectorAll('[role=slider], input, select, button')];
  const gone = () => last?.isConnected && !last.offsetParent && [last, document.body].includes(document.activeElement);
  const follow = () => {
    if (!gone()) return;
    clearTimeout(soon);   // what comes into its place may still be on its way
    soon = setTimeout(() => {
      const all = places();
      if (gone()) all.slice(all.indexOf(last) + 1).find(node => node.offsetParent)?.focus();
    }, 150);
  };
  const watch = new MutationObserver(() => { if (root || attach()) { mend(); follow(); } });
  const attach = () => {
    root = el.closest('.fy-box');
    if (!root) return false;
    watch.disconnect();
    watch.observe(root, { subtree: true, childList: true, characterData: true,
      attributes: true, attributeFilter: ['aria-valuetext', 'contenteditable', 'src', 'class'] });
    root.addEventListener('focusin', event => { last = event.target; });
    root.addEventListener('keydown', event => {   // Enter gives an answer and goes on, as Tab does
      if (event.key !== 'Enter' || event.isComposing || !event.target.matches('.fy-ask input')) return;
      const now = event.target, all = places().filter(node => node.offsetParent && !node.matches('.fy-ask-back'));
      setTimeout(() => { if (document.activeElement === now) all[all.indexOf(now) + 1]?.focus(); }, 60);
    }, true);   // a field of ipywidgets lets no key through to what it stands in
    return true;
  };
  if (attach()) mend(); else watch.observe(document.body, { subtree: true, childList: true });
  model.on('change:focus', () => requestAnimationFrame(() => {   // not away from a field that is already being filled in
    const place = root?.querySelector(model.get('focus').split(' ')[0]), now = document.activeElement;
    const target = place?.querySelector('input, select') ?? place;   // a question means its field
    if (!target || (root.contains(now) && now.matches('input, select'))) return;
    if (target === place) target.tabIndex = -1;
    put(target, 'data-lm-suppress-shortcuts', 'true');
    target.focus({ preventScroll: true });
    place.scrollIntoView({ block: place.matches('.fy-result') ? 'start' : 'nearest' });
  }));
  return () => watch.disconnect();
} };
"""

_STYLE = """
.fy-box { padding: 0.4em 0.6em 0.6em; border: 1px solid var(--jp-border-color2, #bbb); max-width: 62em; }
.fy-box .widget-html-content { line-height: 1.4; white-space: normal; }
.fy-box button:focus-visible, .fy-box input:focus-visible,
.fy-box select:focus-visible {
  outline: 3px solid #0072B2; outline-offset: 2px; }
.fy-title { font-weight: 600; }
.fy-sentence { font-size: 112%; font-weight: 600; }
.fy-caution { display: block; border-left: 5px double #D55E00; padding-left: 0.6em; margin-top: 0.3em; }
.fy-look ol { margin: 0.2em 0 0; padding-left: 1.4em; }
.fy-box .fy-hidden { display: none !important; }
.fy-chapters, .fy-turn { flex-flow: row wrap; margin: 0.3em 0; }
.fy-chapters button.fy-here { font-weight: 700; text-decoration: underline; }
.fy-page-head { font-weight: 600; }
.fy-told { flex-flow: row wrap; gap: 0.2em 0.4em; }
.fy-told button, .fy-jumps button, .fy-ask button { height: auto; min-height: 2em; line-height: 1.3; padding: 0.25em 0.7em;
  white-space: normal; text-align: left; overflow: visible; max-width: 100%; }
.fy-told button { margin: 0; background: none; border: 1px solid var(--jp-border-color1, #888); border-radius: 1em; }
.fy-told button.fy-untold { border-style: dashed; }
.fy-choice { border-left: 4px solid #009E73; padding-left: 0.6em; margin: 0.4em 0; align-items: flex-start; }
.fy-take-back { align-self: flex-start; }
.fy-story p { margin: 0.25em 0; }
.fy-story ol { margin: 0.25em 0; padding-left: 2em; }
.fy-story .fy-under { padding-left: 1.2em; }
.fy-story details { margin: 0.6em 0; }
.fy-story summary { cursor: pointer; }
.fy-jumps { align-items: flex-start; }
.fy-jumps button { text-decoration: underline; background: none; }
.fy-ask { display: grid !important; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); column-gap: 1.5em;
  padding: 0.25em 0; border-top: 1px solid var(--jp-border-color2, #bbb); overflow: visible; }
.fy-ask > * { align-self: start; }
.fy-ask > .widget-inline-hbox { flex-flow: column; height: auto; width: auto; align-items: stretch; }
.fy-ask .widget-label { width: auto; height: auto; line-height: 1.3; text-align: left; white-space: normal; }
.fy-box .fy-ask input, .fy-box .fy-ask select { flex: 0 0 auto; height: 2.2em; width: 100%; max-width: 30em; }
.fy-ask .fy-ask-back { justify-self: start; text-decoration: underline; background: none; }
.fy-note { font-size: 90%; padding-top: 0.2em; }
.fy-story:not(.fy-reasons) .fy-reason { display: none; }
.fy-why-not { grid-column: 1 / -1; }
.fy-old > :not(.fy-live) { opacity: 0.4; }
.fy-ways { overflow-x: auto; }
.fy-ways th, .fy-ways td { text-align: left; padding: 0.1em 0.7em 0.1em 0; vertical-align: top; }
.fy-ways caption { text-align: left; font-weight: 600; }
.fy-box { container-type: inline-size; }
@container (max-width: 36em) { .fy-ask { grid-template-columns: minmax(0, 1fr); } }
.fy-right, .fy-wrong, .fy-open { display: block; padding-left: 0.6em; margin-top: 0.3em; }
.fy-right { border-left: 5px solid #009E73; }
.fy-wrong { border-left: 5px dashed #D55E00; }
.fy-open { border-left: 5px dotted #0072B2; }
.fy-box .widget-radio-box label { height: auto; white-space: normal; }
.fy-box .fy-units .widget-radio-box { flex-direction: row; flex-wrap: wrap; gap: 0 1.6em; margin: 0; }
.fy-box .fy-units .widget-radio-box label { width: auto; margin: 0; }
"""


class Accessible(anywidget.AnyWidget):
    """Label every slider, picture and message of the `fy-box` around it, and keep them in step."""

    _esm = _SCRIPT
    _css = _STYLE
    focus = traitlets.Unicode(
        "", help="where the keyboard goes next: a selector; what follows it only makes it new"
    ).tag(sync=True)
