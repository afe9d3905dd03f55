// Where the note heads of a drawing are. A head that the drawing has once is a glyph with its number; heads of one
// shape are the corners of a path, which lists their numbers; and what is neither is listed beside the drawing.
"use strict";
(function (sound) {
  const SVG = "http://www.w3.org/2000/svg";
  const known = new WeakMap();

  // The corners of a path in their order, without its two ends: "M1 2l0 0 3-4 0 0" has two.
  function cornersOf(path) {
    const numbers = path.getAttribute("d").match(/-?(\d+\.?\d*|\.\d+)/g).map(Number);
    const corners = [];
    let [x, y] = numbers;
    for (let at = 2; at < numbers.length - 2; at += 2) corners.push({ x: (x += numbers[at]), y: (y += numbers[at + 1]) });
    return corners;
  }

  function placesIn(node) {
    const heads = node.dataset.n.split(" ").map(Number);
    if (node.localName === "use") return [[heads[0], { glyph: node.getAttribute("href"), x: Number(node.getAttribute("x")), y: Number(node.getAttribute("y")) }]];
    if (node.localName !== "path") return [[heads[0], { node }]];
    const glyph = "#g" + node.getAttribute("marker-mid").match(/#m(\w+)/)[1];
    return cornersOf(node).map((corner, index) => [heads[index], { glyph, ...corner }]);
  }

  // The heads of a drawing by their numbers: { glyph, x, y }, where the glyph begins; or { node }, what is drawn
  // there; or { x, y, isMiddle } of a head that is only listed.
  function headsIn(svg) {
    if (known.has(svg)) return known.get(svg);
    const heads = new Map();
    for (const [head, each] of (svg.dataset.heads || "").split(" ").filter(Boolean).entries()) {
      const [x, y] = each.split(",").map(Number);
      heads.set(head, { x, y, isMiddle: true });
    }
    for (const node of svg.querySelectorAll("[data-n]")) for (const [head, place] of placesIn(node)) heads.set(head, place);
    // A drawing may be empty yet.
    if (heads.size) known.set(svg, heads);
    return heads;
  }

  // A head drawn once more, above itself: to be coloured. Null where only its place is known.
  function copyHead(svg, head, name) {
    const { glyph, x, y, node } = headsIn(svg).get(head) || {};
    if (!glyph && !node) return null;
    const copy = node ? node.cloneNode(true) : document.createElementNS(SVG, "use");
    copy.removeAttribute("data-n");
    copy.setAttribute("class", name);
    if (glyph) for (const [key, value] of Object.entries({ href: glyph, x, y })) copy.setAttribute(key, value);
    svg.append(copy);
    return copy;
  }

  // The middle of a head, in points of its drawing; null where it is not shown.
  function middleOf(svg, head) {
    const place = headsIn(svg).get(head);
    if (!place || place.isMiddle) return place || null;
    const shown = copyHead(svg, head, ""), box = shown.getBoundingClientRect();
    shown.remove();
    const middle = new DOMPoint(box.x + box.width / 2, box.y + box.height / 2);
    return middle.matrixTransform(svg.getScreenCTM().inverse());
  }

  Object.assign(sound, { headsIn, copyHead, middleOf });
})((window.stavewrightSound = window.stavewrightSound || {}));
