// SPDX-License-Identifier: GPL-3.0-or-later
// The page as plain trees: views return them, tests read them, realise() makes nodes of them.
// Text only ever becomes a text node, so no name of a block can become markup.

const SVG = 'http://www.w3.org/2000/svg';

/** {tag, attributes, children}; null, undefined and false children and attributes are left out. */
export function h(tag, attributes = {}, ...children) {
  const kept = children.flat(Infinity).filter((c) => c !== null && c !== undefined && c !== false);
  return { tag, attributes, children: kept };
}

/** Children with a blank between, so that they are read as words of their own. */
export function spaced(...children) {
  return children.flat().filter(Boolean).flatMap((child, i) => (i ? [' ', child] : [child]));
}

/**
 * A DOM node of a tree. An attribute that is a function is a listener ('onclick'), except 'draw':
 * (width, em) => tree, drawn again by drawAll() whenever the element's width changes, and 'live':
 * () => children, given again by renewAll().
 */
export function realise(tree, document, inSvg = false) {
  if (typeof tree !== 'object') return document.createTextNode(String(tree));
  const svg = inSvg || tree.tag === 'svg';
  const node = svg ? document.createElementNS(SVG, tree.tag) : document.createElement(tree.tag);
  for (const [name, value] of Object.entries(tree.attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === 'draw') node.perchdDraw = value;
    else if (name === 'live') node.perchdLive = value;
    else if (typeof value === 'function') node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? '' : String(value));
  }
  for (const child of tree.children) node.append(realise(child, document, svg));
  if (node.perchdDraw) node.setAttribute('data-draw', '');
  if (node.perchdLive) {
    node.setAttribute('data-live', '');
    renew(node, document);
  }
  return node;
}

function renew(node, document) {
  const { children } = h('div', {}, node.perchdLive());
  node.replaceChildren(...children.map((child) => realise(child, document)));
}

/** Makes the children of every element with a 'live' anew. */
export function renewAll(root, document) {
  for (const node of root.querySelectorAll('[data-live]')) renew(node, document);
  drawAll(root, document);
}

/** Draws every element with a 'draw' in it at its present width. */
export function drawAll(root, document) {
  for (const node of root.querySelectorAll('[data-draw]')) {
    const width = Math.floor(node.clientWidth);
    const em = parseFloat(document.defaultView.getComputedStyle(node).fontSize);
    if (width > 0) node.replaceChildren(realise(node.perchdDraw(width, em), document));
  }
}

/** What a reader without sight or styles gets of a tree; for tests and for labels. */
export function textOf(tree) {
  if (typeof tree !== 'object') return String(tree);
  return tree.children.map(textOf).join('');
}
