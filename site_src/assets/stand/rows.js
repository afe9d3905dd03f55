// Pages of music that fit a sheet: each piece in lines of the chosen size, short pieces side by side.
"use strict";
(function (stand) {
  // Pixels to a point of the engraved page. A staff is 20 points high: 1.8 makes one of 7 mm on a ten-inch
  // tablet, as on the book's own paper; `fit` fills the sheet's width with the form for wide windows, or with
  // that for phones.
  const SIZES = { fit: 0, small: 1.15, medium: 1.45, large: 1.8, largest: 2.4 };
  const WIDEST = 1216, GAP = 32, LEAST_OF_A_LINE = 0.8, SHRUNK = 0.8;

  const make = (tag, name, text) => {
    const made = document.createElement(tag);
    if (name) made.className = name;
    if (text) made.textContent = text;
    return made;
  };

  // The points that a form's music is wide, without the empty paper beside it.
  const widthOf = (drawing) => Number(drawing.dataset.width || drawing.getAttribute("width"));

  // The form of a piece for a sheet so wide, and its pixels to a point: the wide form where it fits at the size.
  function formOf(piece, size, room, phone) {
    // One of the forms may not be there, or not yet.
    const isDrawn = (one) => one.querySelector("path, use");
    const named = (name) => piece.drawings.find((one) => one.classList.contains(name) && isDrawn(one)) || piece.drawings[0];
    const wide = named("wide"), narrow = named("narrow");
    const wanted = SIZES[size] || (phone ? room / 264 : Math.min(room, WIDEST) / 516);
    const fits = (form, scale) => widthOf(form) * scale <= room + 1;
    const form = (SIZES[size] ? fits(wide, wanted * LEAST_OF_A_LINE) : !phone) ? wide : narrow;
    return { form, scale: Math.min(wanted, room / widthOf(form)) };
  }

  // One line of a piece as a drawing of its own: the same notes behind a window of that line's height.
  function line(drawing, top, bottom, scale) {
    const made = document.importNode(drawing, true);
    const width = widthOf(drawing);
    made.setAttribute("viewBox", [0, top, width, bottom - top].join(" "));
    made.setAttribute("width", (width * scale).toFixed(1));
    made.setAttribute("height", ((bottom - top) * scale).toFixed(1));
    made.setAttribute("class", "ink");
    made.querySelectorAll(".sound-mark, .sounding, .repeated").forEach((mark) => mark.remove());
    return made;
  }

  function linesOf(drawing, scale, most) {
    const edges = drawing.dataset.systems.split(" ").map(Number), made = [];
    for (let index = 0; index < edges.length; index += 2) {
      // A window reaches halfway to the next line, so that nothing of this one is cut.
      const top = index ? (edges[index - 1] + edges[index]) / 2 : 0;
      const bottom = index + 2 < edges.length ? (edges[index + 1] + edges[index + 2]) / 2 : Number(drawing.getAttribute("height"));
      made.push(line(drawing, top, bottom, Math.min(scale, most / (bottom - top))));
    }
    return made;
  }

  // Whether a drawing's window shows a head.
  function hasHead(svg, head) {
    const [, top, , height] = svg.getAttribute("viewBox").split(" ").map(Number);
    const y = window.stavewrightSound?.headsIn(svg).get(head)?.y ?? NaN;
    return y >= top && y <= top + height;
  }

  function labelOf(piece, withHeading) {
    const label = make("p", "stand-label");
    if (withHeading) label.append(make("strong", "", piece.heading));
    const name = make("button", "stand-piece", piece.label);
    name.type = "button";
    label.append(name);
    if (piece.means) label.append(make("span", "stand-means", piece.means));
    return label;
  }

  // The cells of a piece: all of it in one where a sheet of this height holds it, else one for each line.
  // A cell is { node, piece, width }.
  function cellsOf(piece, number, withHeading, sheet, size, phone) {
    const room = sheet.clientWidth - 2 * parseFloat(getComputedStyle(sheet).paddingLeft);
    const { form, scale } = formOf(piece, size, room, phone);
    const label = labelOf(piece, withHeading);
    const width = Math.min(room, widthOf(form) * scale);
    const wrap = (...children) => {
      const node = make("div", "stand-cell");
      node.dataset.piece = number;
      node.style.width = `${width}px`;
      node.append(...children);
      sheet.append(node);
      return node;
    };
    const whole = wrap(label);
    const most = sheet.clientHeight - whole.offsetHeight - 24;
    // A piece that is a little too high for a page is made a little smaller where the player chose no size.
    const share = most / (Number(form.getAttribute("height")) * scale);
    const lines = linesOf(form, !SIZES[size] && share < 1 && share > SHRUNK ? scale * share : scale, most);
    lines[0].removeAttribute("aria-hidden");
    lines[0].setAttribute("role", "img");
    lines[0].setAttribute("aria-label", piece.words);
    whole.append(...lines);
    if (whole.getBoundingClientRect().height <= sheet.clientHeight - 1) return [{ node: whole, piece, width }];
    whole.remove();
    return lines.map((each, index) => ({ node: wrap(...(index ? [each] : [label, each])), piece, width }));
  }

  // Lays pieces out for a sheet, as pages of rows of cells: [[row, ...], ...], a row being a node of its own.
  // `head` is a node that stands before the first piece, or null.
  function layOut(sheet, pieces, size, phone, head) {
    sheet.replaceChildren();
    const room = sheet.clientWidth - 2 * parseFloat(getComputedStyle(sheet).paddingLeft);
    const rows = [];
    let heading = "", open = null;
    for (const [number, piece] of pieces.entries()) {
      const cells = cellsOf(piece, number, piece.heading !== heading, sheet, size, phone);
      const alone = cells.length > 1;
      for (const cell of cells) {
        const fits = open && !alone && open.used + GAP + cell.width <= room && piece.heading === heading;
        if (!fits) {
          open = { node: make("div", "stand-row"), used: 0 };
          rows.push(open.node);
        }
        open.used += cell.width + (fits ? GAP : 0);
        open.node.append(cell.node);
      }
      if (alone) open = null;
      heading = piece.heading;
    }
    if (head) rows.unshift(head);
    sheet.replaceChildren(...rows);
    // What stands before the music is left out where it would stand alone.
    const high = (row) => row.getBoundingClientRect().height;
    if (head && rows[1] && high(head) + high(rows[1]) > sheet.clientHeight - 1) {
      rows.shift();
      head.remove();
    }
    const pages = [[]];
    let used = 0;
    for (const row of rows) {
      if (used && used + high(row) > sheet.clientHeight - 1) {
        pages.push([]);
        used = 0;
      }
      pages[pages.length - 1].push(row);
      used += high(row);
    }
    return pages;
  }

  Object.assign(stand, { layOut, hasHead, make });
})((window.stavewrightStand = window.stavewrightStand || {}));
