(function () {
  "use strict";
  var root = document.documentElement, views = {}, specs = {};

  function words(text) { return document.createTextNode(text == null ? "" : String(text)); }
  function make(tag, parent) { var node = document.createElement(tag); if (parent) parent.appendChild(node); return node; }
  function picture(path) {
    var space = "http://www.w3.org/2000/svg", svg = document.createElementNS(space, "svg"), shape = document.createElementNS(space, "path");
    svg.setAttribute("viewBox", "-1.05 -1.05 2.1 2.1"); svg.setAttribute("aria-hidden", "true");
    shape.setAttribute("d", path); shape.setAttribute("fill", "#1c2430"); svg.appendChild(shape); return svg;
  }

  // A tooltip of our own: the section's outline beside its numbers, all of it set as text.
  var tip = make("div"); tip.id = "tip"; tip.setAttribute("aria-hidden", "true");
  function tooltip(_handler, event, item, value) {
    tip.textContent = ""; tip.style.display = "none";
    if (value == null || value === "" || typeof value !== "object") return;
    var datum = item && item.datum && item.datum.datum ? item.datum.datum : item && item.datum;
    if (datum && typeof datum.path === "string" && datum.path) tip.appendChild(picture(datum.path));
    var list = make("dl", tip);
    Object.keys(value).forEach(function (key) { make("dt", list).appendChild(words(key)); make("dd", list).appendChild(words(value[key])); });
    tip.style.display = "flex";
    var x = Math.min(event.clientX + 16, window.innerWidth - tip.offsetWidth - 8), y = event.clientY + 16;
    if (y + tip.offsetHeight > window.innerHeight - 8) y = event.clientY - tip.offsetHeight - 12;
    tip.style.left = Math.max(4, x) + "px"; tip.style.top = Math.max(4, y) + "px";
  }

  // The same rule as kit/writeup/stills.py: panels flow into as many columns as there is room for, and fill it.
  // Data travel by column, repeated words once; charts and the CSV want rows.
  function unpacked(stored) {
    var sets = stored.spec.datasets || {};
    Object.keys(sets).forEach(function (name) {
      var columns = sets[name].columns, rows = [];
      if (!columns) return;
      Object.keys(columns).forEach(function (field) {
        var column = columns[field], values = column.words ? column.at.map(function (i) { return column.words[i]; }) : column;
        values.forEach(function (value, i) { (rows[i] = rows[i] || {})[field] = value; });
      });
      sets[name] = rows;
    });
    return stored;
  }

  function fitted(spec, layout, room) {
    spec = JSON.parse(JSON.stringify(spec));
    var gap = 26, margin = layout.margin || 60;
    if (layout.width) { spec.width = Math.max(150, Math.min(layout.panel, room) - (layout.margin || 200)); }
    else if (layout.shrink) { shrink(spec, layout.panel, Math.max(200, room - margin)); }
    else if (spec.concat && layout.panel) {
      var columns = Math.max(1, Math.min(layout.most || 1, spec.concat.length, Math.floor((room + gap) / (layout.panel + margin + gap))));
      var width = Math.min(layout.panel * (layout.grow || 1), (room - gap * (columns - 1)) / columns - margin);
      spec.columns = columns;
      if (width < layout.panel || layout.grow) spec.concat.forEach(function (panel) { panel.width = Math.max(140, Math.floor(width)); });
    }
    if (room < 640) narrowLegend(spec, room);
    return spec;
  }
  function shrink(node, panel, width) {
    if (node.width === panel) node.width = Math.min(panel, width);
    (node.vconcat || node.hconcat || []).forEach(function (part) { shrink(part, panel, width); });
  }
  function narrowLegend(node, room) {
    if (!node || typeof node !== "object") return;
    if (node.legend && node.legend.columns) node.legend.columns = Math.max(1, Math.min(node.legend.columns, Math.floor(room / 190)));
    Object.keys(node).forEach(function (key) { if (key !== "datasets" && key !== "data") narrowLegend(node[key], room); });
  }

  // What runs beyond the right edge of its own box fades there, until it is scrolled to.
  function hint(box) { box.classList.toggle("more", box.scrollWidth - box.clientWidth - box.scrollLeft > 3); }
  function hints() { document.querySelectorAll(".scroll,.live,.formula").forEach(hint); }

  function draw(figure) {
    var holder = figure.querySelector(".live"), key = figure.dataset.chart, stored = specs[key];
    var spec = fitted(stored.spec, stored.layout || {}, holder.clientWidth);
    var options = { actions: false, renderer: stored.renderer || "svg", ast: true, defaultStyle: false, tooltip: tooltip };
    return window.sectionStudyEmbed(holder, spec, options).then(function (made) {
      if (views[key]) views[key].finalize();
      views[key] = made;
      hint(holder);
      holder.querySelectorAll("select").forEach(function (select) {
        if (select.getAttribute("aria-label")) return;
        select.setAttribute("aria-label", "Pick what the chart shows: " + stored.spec.description.slice(0, 60));
      });
    });
  }

  function csv(rows) {
    var columns = [];
    rows.forEach(function (row) { Object.keys(row).forEach(function (c) { if (columns.indexOf(c) < 0) columns.push(c); }); });
    function cell(value) { var text = value == null ? "" : String(value); return /[",\r\n]/.test(text) ? '"' + text.replace(/"/g, '""') + '"' : text; }
    return [columns.map(cell).join(",")].concat(rows.map(function (row) { return columns.map(function (c) { return cell(row[c]); }).join(","); })).join("\r\n") + "\r\n";
  }
  function save(name, type, text) {
    var link = document.createElement("a"); link.download = name; link.href = URL.createObjectURL(new Blob([text], { type: type }));
    document.body.appendChild(link); link.click(); link.remove(); setTimeout(function () { URL.revokeObjectURL(link.href); }, 1000);
  }
  function greatest(spec) {
    var best = [];
    Object.keys(spec.datasets || {}).forEach(function (name) { if (spec.datasets[name].length > best.length) best = spec.datasets[name]; });
    return best;
  }
  function reach(figure) {
    var key = figure.dataset.chart, stored = specs[key];
    figure.querySelectorAll("button[data-save]").forEach(function (button) {
      button.hidden = false;
      button.addEventListener("click", function () {
        if (button.dataset.save === "csv") save(key + ".csv", "text/csv", csv(greatest(stored.spec)));
        else if (button.dataset.save === "json") save(key + ".vl.json", "application/json", JSON.stringify(stored.spec, null, 1));
        else views[key].view.toSVG().then(function (svg) { save(key + ".svg", "image/svg+xml", svg); });
      });
    });
  }

  // The drawing script travels compressed; where it cannot be unpacked the stills stand in for the charts.
  function drawing() {
    var packed = document.getElementById("bundle");
    if (!window.DecompressionStream) { root.classList.add("stills"); return Promise.reject(new Error("stills only")); }
    var bytes = Uint8Array.from(atob(packed.textContent), function (letter) { return letter.charCodeAt(0); });
    var stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
    return new Response(stream).text().then(function (code) {
      var script = document.createElement("script"); script.textContent = code; document.head.appendChild(script); packed.remove();
    });
  }

  function start() {
    document.body.appendChild(tip);
    var figures = Array.prototype.slice.call(document.querySelectorAll("figure[data-chart]"));
    document.querySelectorAll("script[type='application/json'][data-spec]").forEach(function (node) { specs[node.dataset.spec] = unpacked(JSON.parse(node.textContent)); });
    figures.forEach(reach);
    hints();
    document.addEventListener("scroll", function (event) { if (event.target.classList) hint(event.target); }, true);
    var chain = drawing();
    figures.forEach(function (figure) { chain = chain.then(function () { return draw(figure); }); });
    chain.then(function () { root.dataset.ready = Math.round(performance.now()); }, function (failed) { if (!root.classList.contains("stills")) throw failed; });
    var last = window.innerWidth, timer;
    window.addEventListener("resize", function () {
      clearTimeout(timer);
      timer = setTimeout(function () { if (window.innerWidth !== last) { last = window.innerWidth; figures.forEach(draw); hints(); } }, 200);
    });
    if (window.innerWidth < 1080) document.querySelector("nav.contents details").open = false;
    window.addEventListener("beforeprint", function () { document.querySelector("nav.contents details").open = true; });
  }
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", start); else start();
})();
