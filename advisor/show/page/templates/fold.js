"use strict";
// On a narrow screen what has room elsewhere is shut until it is asked for: by its title,
// by a link to it, by paper or by a wider screen.
{
  const narrow = matchMedia("(max-width: 48rem)");
  const parts = [...document.querySelectorAll("details[data-room]")];
  const openAll = () => parts.forEach((each) => {
    each.open = true;
  });
  const openAsked = () => {
    const found = location.hash && document.getElementById(location.hash.slice(1));
    const part = found && (found.closest("details") ?? found.querySelector(".fold"));
    if (part) part.open = true;
  };
  if (narrow.matches) {
    parts.forEach((each) => {
      each.open = false;
    });
  }
  openAsked();
  addEventListener("hashchange", openAsked);
  document.querySelector("nav").addEventListener("click", () => setTimeout(openAsked));
  narrow.addEventListener("change", () => narrow.matches || openAll());
  let shut = [];
  addEventListener("beforeprint", () => {
    shut = parts.filter((each) => !each.open);
    openAll();
  });
  addEventListener("afterprint", () => shut.forEach((each) => {
    each.open = false;
  }));
}
