// The page is whole without this: it keeps ticks on this device and shows one bike at a time.
(function () {
  "use strict";
  var key = "carryover " + document.body.dataset.key;
  var boxes = Array.prototype.slice.call(document.querySelectorAll(".work input"));
  var keep = function () {
    try {
      localStorage.setItem(key, boxes.map(function (b) { return b.checked ? "1" : "0"; }).join(""));
    } catch (e) { /* a page opened from a mail may not keep anything */ }
  };
  try {
    var kept = localStorage.getItem(key) || "";
    boxes.forEach(function (b, i) { b.checked = kept.charAt(i) === "1"; });
  } catch (e) { /* as above */ }
  boxes.forEach(function (b) { b.addEventListener("change", keep); });

  var clear = document.getElementById("clear");
  if (boxes.length > 0) {
    clear.parentNode.hidden = false;
    clear.addEventListener("click", function () {
      boxes.forEach(function (b) { b.checked = false; });
      keep();
    });
  }

  document.querySelectorAll(".show").forEach(function (set) {
    set.hidden = false;
    set.addEventListener("change", function (e) {
      set.closest("article").dataset.show = e.target.value;
    });
  });
})();
