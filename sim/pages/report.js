// Moves the marks and swaps the numbers when another policy or setting is chosen. All numbers and
// sentences come ready from the block "numbers": nothing is worked out here.
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("numbers").textContent);
  const find = (selector, within = document) => within.querySelector(selector);
  const sliders = { spacing: find("#spacing"), shift: find("#shift") };
  const kinds = ["in-control", "at-full-stretch", "through"];
  let slug = find("#policies input:checked").value;

  const place = (mark, [x, y]) => {
    mark.style.transform = `translate(${x}px,${y}px)`;
  };

  function showCourt(ground, court) {
    const part = (name) => find(`[data-part=${name}]`, ground);
    for (const name of ["left", "right"]) {
      const player = court[name];
      place(find(`[data-player=${name}]`, ground), player.found);
      place(part(`${name}-target`), player.target);
      place(part(`${name}-start`), player.start);
      part(`${name}-way`).setAttribute("d", player.way);
      ["stretch", "control"].forEach((area, k) => {
        part(`${name}-${area}`).setAttribute("d", data.outlines[player.areas[k]]);
      });
    }
    court.through.forEach((balls, k) => part(`through-${k}`).setAttribute("d", balls));
    find("desc", ground).textContent = court.words;
  }

  function showIcons(figure, name, balls) {
    find("[data-icons=name]", figure).textContent = name;
    find("[data-icons=words]", figure).textContent = balls.frequencies;
    find("[data-icons=title]", figure).textContent =
      `Of 100 balls in play with ${name}: ${balls.frequencies}.`;
    const shown = balls.icons.flatMap((count, k) => Array(count).fill(kinds[k]));
    figure.querySelectorAll("use").forEach((icon, k) => {
      icon.setAttribute("href", shown[k] ? `#ball-${shown[k]}` : "#none");
    });
  }

  // Where a policy stands in the scenario.
  const own = (policy) => policy.settings[policy.own[0]][policy.own[1]];

  function show() {
    const policy = data.policies[slug];
    const setting = policy.settings[sliders.spacing.value][sliders.shift.value];
    const variant = data.variants[setting.variant];
    for (const [name, words] of [["spacing", policy.spacings], ["shift", policy.shifts]]) {
      const shown = words[sliders[name].value] ?? "–";
      find(`#${name}-shown`).textContent = shown;
      sliders[name].setAttribute("aria-valuetext", shown);
    }
    document.querySelectorAll("[data-shown]").forEach(({ dataset, parentElement }, k, all) => {
      const shown = { ...variant.shown[dataset.direction], change: setting.change[dataset.direction] };
      all[k].textContent = shown[dataset.shown];
      // The room for what has changed is kept, so that nothing jumps when a slider is moved.
      parentElement.style.visibility = shown[dataset.shown] ? "" : "hidden";
    });
    for (const [direction, court] of Object.entries(variant.courts)) {
      showCourt(find(`svg[data-court=${direction}]`), court);
    }
    // Another setting stands beside its policy as it stands, that beside its rival; alike where
    // they cannot be told apart.
    const moved = setting !== own(policy);
    const other = moved ? policy : data.policies[policy.against];
    showIcons(find("#icons-chosen"), setting.name, setting.alike ?? variant);
    if (other && find("#icons-against")) {
      const name = moved ? `${other.name}, as in the scenario` : other.name;
      showIcons(find("#icons-against"), name, setting.alike ?? data.variants[own(other).variant]);
    }
    find("#alike").hidden = setting.alike === null;
    find("#said").textContent = setting.said;
    find("#reset").disabled = !moved;
  }

  // On a phone the policies are a row that scrolls: not the page, which stays where it is.
  function intoView(policies) {
    const chosen = find("label:has(:checked)", policies);
    const middle = chosen.offsetLeft - policies.offsetLeft + chosen.offsetWidth / 2;
    policies.scrollLeft = middle - policies.clientWidth / 2;
  }

  // Sliders have as many steps as the policy has settings, and stand at its own one.
  function toOwn() {
    const policy = data.policies[slug];
    const steps = [["spacing", policy.spacings, policy.noSpacing], ["shift", policy.shifts, policy.noShift]];
    steps.forEach(([name, words, why], k) => {
      sliders[name].max = Math.max(words.length - 1, 0);
      sliders[name].value = policy.own[k];
      sliders[name].disabled = why !== "";
      find(`#${name}-why`).textContent = why;
    });
    intoView(find("#policies"));
    show();
  }

  find("#policies").addEventListener("change", (event) => {
    slug = event.target.value;
    toOwn();
  });
  Object.values(sliders).forEach((slider) => slider.addEventListener("input", show));
  find("#reset").addEventListener("click", toOwn);
  // A browser may have kept what was chosen before the page was loaded anew.
  toOwn();
})();
