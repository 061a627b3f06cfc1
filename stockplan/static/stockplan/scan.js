"use strict";
// A scanner types a code and presses Enter: each scan adds one to the field of that code. Without this script people
// type the numbers themselves; the server checks them either way. The field of the scanner opens only here: before, its
// Enter would send the form.
for (const form of document.querySelectorAll("form[data-scan]")) {
    const scan = form.querySelector("#scan");
    const said = form.querySelector("#scanned");
    if (!scan) {
        continue;
    }
    const fields = [...form.querySelectorAll("input[data-code]")];
    // A GTIN-13 comes as fourteen digits from some scanners.
    const plain = (code) => (code || "").trim().toUpperCase().replace(/^0+(?=\d{8,13}$)/, "");
    // The DataMatrix of a spool says GTIN, net mass and lot, behind a symbology identifier from some scanners.
    const ELEMENTS = /^(?:\][A-Z]\d)?\x1d?\(?01\)?(\d{14})(?:\(?310\d\)?\d{6})?(?:\x1d?\(?10\)?([^\x1d(]{1,20}))?/;
    const fits = (one, code) => {
        const elements = ELEMENTS.exec(code);
        if (elements) {
            const [, gtin, lot] = elements;
            return plain(one.dataset.gtin) === plain(gtin) && (!lot || !one.dataset.run || one.dataset.run === lot);
        }
        return [one.dataset.code, one.dataset.sku, one.dataset.gtin].map(plain).includes(code);
    };

    scan.disabled = false;
    // Who types in another field already stays there.
    if (document.activeElement === document.body) {
        scan.focus();
    }
    scan.addEventListener("keydown", (event) => {
        if (event.key !== "Enter") {
            return;
        }
        event.preventDefault();
        const code = scan.value.trim();
        scan.value = "";
        if (!code) {
            return;
        }
        const field = fields.find((one) => fits(one, plain(code)));
        if (!field) {
            said.textContent = `${form.dataset.unknown} ${code}`;
            return;
        }
        const counted = Number(field.value) + 1;
        if (counted > Number(field.max)) {
            said.textContent = `${form.dataset.enough} ${field.dataset.code}`;
            return;
        }
        field.value = counted;
        said.textContent = `${field.dataset.code}, ${form.dataset.counted} ${counted} / ${field.max}`;
    });
}
