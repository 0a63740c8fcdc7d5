/*
 * The spot check, as archives do it: ten pages or a tenth, whichever is more, at full size at the
 * corners and in the middle. The lot is the shot's checksum, so that it falls the same each time.
 */
function spotPages() {
    const can = pages.filter((p) => p.files.some((f) => /\.jpg$/.test(f))
        && !store.get(p.sha256, 'leave_out'));
    const n = Math.min(can.length, Math.max(10, Math.ceil(can.length / 10)));
    const drawn = new Set([...can].sort((a, b) => (a.sha256 < b.sha256 ? -1 : 1)).slice(0, n));
    return inOrder().filter((p) => drawn.has(p));
}

/* The last check of the page as it is now. */
function checkOf(p) {
    const list = store.get(p.sha256, 'checks') || [];
    return [...list].reverse().find((c) => !c.outline || c.outline === p.outline_key);
}

function openSpots() {
    const list = spotPages();
    const back = document.activeElement;
    const holder = el('div', {});
    const who = el('input', { type: 'text', autocomplete: 'name' });
    let i = Math.max(0, list.findIndex((p) => !checkOf(p)));

    who.value = store.who;
    who.addEventListener('change', () => { store.who = who.value.trim(); });

    function tick(result, note) {
        const p = list[i];
        const check = { who: store.who, when: now(), result, outline: p.outline_key };
        if (note) check.note = note;
        store.set(p.sha256, 'checks', [...(store.get(p.sha256, 'checks') || []), check]);
        const next = list.findIndex((q) => !checkOf(q));
        i = next < 0 ? (i + 1) % list.length : next;
        draw();
        dialog.querySelector('h2').focus();
    }

    function window5(p) {
        const file = p.files.find((f) => /\.jpg$/.test(f));
        const places = [['top left', 0, 0], ['top right', 1, 0], ['middle', .5, .5],
            ['bottom left', 0, 1], ['bottom right', 1, 1]];
        const told = el('p', { class: 'quiet' });
        const boxes = places.map(([what, fx, fy]) => {
            const img = el('img', { src: href(file), alt: `Page ${label(p.page)}, ${what}, at full size` });
            const box = el('div', { class: fx === .5 ? 'spot tall' : 'spot' }, img, el('span', {}, what));
            const put = () => {
                img.style.left = (box.clientWidth - img.naturalWidth) * fx + 'px';
                img.style.top = (box.clientHeight - img.naturalHeight) * fy + 'px';
                if (p.written && img.naturalWidth < p.written.width)
                    told.textContent = 'The access copy is smaller than the page: for the full size open the master.';
            };
            img.addEventListener('load', put);
            return box;
        });
        return [el('div', { class: 'spots' }, ...boxes), told];
    }

    function draw() {
        const p = list[i];
        const done = list.filter(checkOf).length;
        const last = checkOf(p);
        const note = el('input', { type: 'text', dir: 'auto' });
        const step = (n) => () => {
            i = (i + n + list.length) % list.length;
            draw();
        };
        holder.replaceChildren(
            el('div', { class: 'row' }, el('h2', { id: 'spot-title', tabindex: -1 }, `Spot check: page ${label(p.page)}`),
                el('span', { class: 'quiet' }, `${i + 1} of ${list.length}; ${done} done`),
                last ? el('b', {}, `Ticked: ${last.result}`) : ''),
            ...window5(p),
            el('div', { class: 'form' }, el('label', {}, 'Who looks', who),
                el('label', {}, 'Note, where something is wrong', note)),
            el('div', { class: 'row acts' },
                button('Good', () => tick('good', note.value.trim()), { class: 'main' }),
                button('Not good', () => tick('bad', note.value.trim())),
                button('The page before', step(-1)), button('The next page', step(1)),
                el('a', { href: '#' + p.page, on: { click: () => dialog.close() } }, 'Go to the page'),
                button('Close', () => dialog.close())));
    }
    const dialog = el('dialog', { 'aria-labelledby': 'spot-title' }, holder);
    dialog.addEventListener('close', () => {
        dialog.remove();
        if (back && back.isConnected) back.focus();
    });
    document.body.append(dialog);
    draw();
    dialog.showModal();
    dialog.querySelector('h2').focus();
}
