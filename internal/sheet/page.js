// The page is whole without this: it keeps ticks and readings on this device.
(function () {
  "use strict";
  var key = "carryover " + document.body.dataset.key;
  var fields = Array.prototype.slice.call(document.querySelectorAll(".work input, .blank input"));
  var value = function (f, v) {
    if (f.type === "checkbox") {
      if (v !== undefined) { f.checked = v === "1"; }
      return f.checked ? "1" : "";
    }
    if (v !== undefined) { f.value = v; }
    return f.value;
  };
  var keep = function () {
    try {
      localStorage.setItem(key, JSON.stringify(fields.map(function (f) { return value(f); })));
    } catch (e) { /* a page opened from a mail may not keep anything */ }
  };
  try {
    var kept = JSON.parse(localStorage.getItem(key) || "[]");
    fields.forEach(function (f, i) { value(f, kept[i] || ""); });
  } catch (e) { /* as above */ }
  fields.forEach(function (f) { f.addEventListener("input", keep); });
  if (fields.length > 0) {
    var clear = document.getElementById("clear");
    clear.parentNode.hidden = false;
    clear.addEventListener("click", function () {
      fields.forEach(function (f) { value(f, ""); });
      keep();
    });
  }
})();
