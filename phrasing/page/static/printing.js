// What is folded on the screen is printed too.

export function openForPrint() {
  const folded = [...document.querySelectorAll("details:not(.screen)")];
  let before = null;
  const turn = (printing) => {
    if (printing && before === null) before = folded.filter((each) => each.open);
    for (const each of folded) each.open = printing || (before ?? []).includes(each);
    if (!printing) before = null;
  };
  addEventListener("beforeprint", () => turn(true));
  addEventListener("afterprint", () => turn(false));
  matchMedia("print").addEventListener("change", ({ matches }) => turn(matches));
}
