"use strict";
// Draws the tiles of the outline sheet that are near the window, and takes them away again: of tens of
// thousands of outlines only some hundred are ever in the page. Texts are set as texts, never as markup.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const main = document.getElementById("groups");
  const order = document.getElementById("order"), filter = document.getElementById("filter");
  const flag = document.getElementById("flag"), shown = document.getElementById("shown");
  const links = document.getElementById("links"), folded = document.getElementById("folded");
  const MOST_LINKS = 150, CHUNK = 240, SVG = "http://www.w3.org/2000/svg";

  const element = (name, text, kind) => {
    const made = document.createElement(name);
    if (text !== undefined) made.textContent = text;
    if (kind) made.className = kind;
    return made;
  };

  const drawn = (name, attributes) => {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  };

  // An outline is [name or 0, family, character, flags, as drawn, as cut].
  const name = (one) => one[0] || `${data.families[one[1]]}/${one[2]}`;

  const flags = (one) => data.flags[one[3]];

  const picture = (title, paths) => {
    const box = drawn("svg", {viewBox: `0 0 ${data.side} ${data.side}`, role: "img"});
    const said = drawn("title", {});
    said.textContent = title;
    box.append(said, ...paths.map(([d, kind]) => drawn("path", {d, class: kind})));
    return box;
  };

  const tile = (one, group) => {
    const made = element("div", undefined, "tile"), said = flags(one);
    const paths = (one[5] ? [[one[5], "cut"]] : []).concat([[one[4], "drawn"]]);
    const short = name(one).replace(`${group}/`, "").replace(`/${group}`, "");
    made.append(picture(name(one) + (said ? `: ${said}` : ""), paths), element("span", short));
    return made;
  };

  // What is left out is [name, source, place of its reason, place of its picture: [[path, fill rule] …]].
  const card = ([title, source, reason, place]) => {
    const made = element("div", undefined, "card"), words = element("div");
    words.append(element("b", title || "whole file"), element("i", title === source ? "" : source));
    words.append(element("p", data.reasons[reason]));
    made.append(picture(title || source, data.pictures[place]), words);
    return made;
  };

  const near = new IntersectionObserver((entries) => {
    for (const {target, isIntersecting} of entries) {
      if (isIntersecting && !target.firstChild) target.append(...target.members.map(target.draw));
      if (!isIntersecting) target.replaceChildren();
    }
  }, {rootMargin: "800px"});

  const height = (chunk) => {
    const [across, up] = chunk.cell, gap = data.gap;
    const columns = Math.max(1, Math.floor((main.clientWidth + gap) / (across + gap)));
    chunk.style.height = `${Math.ceil(chunk.members.length / columns) * (up + gap) - gap}px`;
  };

  const section = (title, members, draw, cell) => {
    const made = element("details");
    made.open = !folded.checked;
    made.append(element("summary", `${title} (${members.length})`));
    for (let start = 0; start < members.length; start += CHUNK) {
      const chunk = element("div", undefined, cell === data.tile ? "tiles" : "cards");
      Object.assign(chunk, {members: members.slice(start, start + CHUNK), draw, cell});
      height(chunk);
      made.append(chunk);
      near.observe(chunk);
    }
    return made;
  };

  const show = () => {
    near.disconnect();
    main.replaceChildren();
    links.replaceChildren();
    const text = filter.value.trim().toLowerCase();
    const has = (one) => flag.value === "" || flags(one).split(", ").includes(flag.value);
    const found = data.orders[order.value]
      .filter(([title]) => title.toLowerCase().includes(text))
      .map(([title, places]) => [title, places.map((place) => data.outlines[place]).filter(has)])
      .filter(([, members]) => members.length);
    const sections = found.map(([title, members]) =>
      section(title, members, (one) => tile(one, title), data.tile));
    const lost = data.left.filter((one) => one[0].toLowerCase().includes(text));
    if (lost.length && flag.value === "") sections.push(section("Left out", lost, card, data.card));
    main.append(...sections);
    const count = found.reduce((sum, [, members]) => sum + members.length, 0);
    shown.textContent = `${count} shown in ${found.length} groups`;
    if (sections.length > MOST_LINKS) return;
    for (const made of sections) {
      const link = element("button", made.firstChild.textContent.replace(/ \(\d+\)$/, ""));
      link.addEventListener("click", () => { made.open = true; made.scrollIntoView(); });
      links.append(link, " ");
    }
  };

  for (const word of data.words) {
    const option = element("option", word);
    option.value = word;
    flag.append(option);
  }
  for (const control of [order, flag, folded]) control.addEventListener("change", show);
  filter.addEventListener("input", show);
  addEventListener("resize", () => document.querySelectorAll(".tiles,.cards").forEach(height));
  show();
})();
