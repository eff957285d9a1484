// What is folded on the screen is printed too.

export function openForPrint() {
  const folded = [...document.querySelectorAll("details:not(.screen)")];
  let open = [];
  matchMedia("print").addEventListener("change", ({ matches }) => {
    if (matches) open = folded.filter((each) => each.open);
    for (const each of folded) each.open = matches || open.includes(each);
  });
}
