(() => {
  const box = document.getElementById("compare");
  const pair = document.getElementById("pair");
  const share = document.getElementById("share");
  const sides = ["left", "right"].map((side) => document.getElementById(side));
  const shown = ["over", "under"].map((name) => pair.querySelector("img." + name));
  const words = () => {
    const [left, right] = sides.map((side) => side.selectedOptions[0].text);
    share.setAttribute("aria-valuetext", share.value + " % " + left + ", " + share.dataset.rest + " " + right);
  };
  const cut = () => {
    pair.style.setProperty("--share", share.value + "%");
    words();
  };
  const choose = () => {
    sides.forEach((side, index) => {
      const picture = document.getElementById(side.value);
      shown[index].src = picture.src;
      shown[index].alt = picture.alt;
    });
    const first = document.getElementById(sides[0].value);
    pair.style.setProperty("--shape", first.getAttribute("width") / first.getAttribute("height"));
    words();
  };
  share.addEventListener("input", cut);
  sides.forEach((side) => side.addEventListener("change", choose));
  box.hidden = false;
  choose();
  cut();
})();
