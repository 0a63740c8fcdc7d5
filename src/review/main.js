/* The list, the bar above it, the foot: saving, and the command to go on with. */
let show = 'all';
let first = false;
let savedNow = false;

const shown = (p) => show === 'all' || (show === 'open' && needsPerson(p))
    || (show === 'changed' && store.edited(p.sha256).length > 0)
    || (show === 'spot' && spotPages().includes(p)) || (show === 'marked' && marked.has(p));

function drawPages() {
    const list = inOrder().filter(shown);
    if (first) list.sort((a, b) => Number(needsPerson(b)) - Number(needsPerson(a)));
    const main = document.getElementById('pages');
    const out = data.left_out.filter(() => show === 'all');

    for (const p of list) if (!cards.has(p)) cards.set(p, makeCard(p));
    main.replaceChildren(toolbar, ...list.map((p) => cards.get(p).node),
        ...(list.length ? [] : [el('p', {}, 'No page is of this kind.')]),
        ...(out.length ? [el('h2', {}, 'No page was made of these'), ...out.map(leftOut)] : []));
    drawTools();
}

function leftOut(s) {
    const back = button('Take it in again', () => {
        store.set(s.sha256, 'leave_out', !store.get(s.sha256, 'leave_out'));
    });
    const node = el('div', { class: 'out row' }, el('b', {}, name(s.shot)), el('span', {}, s.why),
        s.by_person ? back : '');
    const draw = () => back.setAttribute('aria-pressed', String(!store.get(s.sha256, 'leave_out')));
    store.listen((sha) => sha === s.sha256 && draw());
    draw();
    return node;
}

/* ---- the bar --------------------------------------------------------------------------------- */

const toolbar = el('div', { class: 'tools', role: 'region', 'aria-label': 'Which pages are shown' });
const filter = el('select', { id: 'filter', on: { change: () => {
    show = filter.value;
    drawPages();
} } }, ...[['all', 'all pages'], ['open', 'those that need a person'], ['changed', 'those not saved yet'],
    ['spot', 'those of the spot check'], ['marked', 'those marked']]
    .map(([value, text]) => el('option', { value }, text)));
const firstBox = el('input', { type: 'checkbox', on: { change: () => {
    first = firstBox.checked;
    drawPages();
} } });
const whoInput = el('input', { type: 'text', autocomplete: 'name', on: { change: () => {
    store.who = whoInput.value.trim();
} } });
whoInput.value = store.who;
const group = el('div', { class: 'row', role: 'group', 'aria-label': 'For all marked pages' });
toolbar.append(el('div', { class: 'inner' },
    el('div', { class: 'row' }, el('label', {}, 'Show', filter),
        el('label', { class: 'tick' }, firstBox, 'Those that need a person first'),
        button('Mark all shown', () => {
            for (const p of inOrder().filter(shown)) setMark(p, true);
            drawTools();
        }),
        el('span', { class: 'grow' }), el('label', {}, 'Your name', whoInput)),
    group));

function forMarked(f) {
    for (const p of marked) f(p);
    store.changed(null);
}

function drawTools() {
    const can = [...marked].filter((p) => p.outcome !== 'failed');
    const acceptable = can.filter((p) => p.files.length);
    const put = (list, says) => () => {
        for (const p of list) if (!wordOf(p) || wordOf(p).says !== says) say(p, says);
        store.changed(null);
    };
    group.hidden = !marked.size;
    group.replaceChildren(...(marked.size ? [el('b', {}, `${marked.size} marked:`),
            button('Accept them', put(acceptable, 'accepted')), button('Refuse them', put(can, 'refused')),
            button('Turn them left', () => forMarked((p) => turnBy(p, -90))),
            button('Turn them right', () => forMarked((p) => turnBy(p, 90))),
            button('Leave them out', () => forMarked((p) => store.put(p.sha256, 'leave_out', true))),
            button('Unmark', () => {
                for (const p of [...marked]) setMark(p, false);
                drawTools();
            })] : []));
}

function setMark(p, on) {
    const card = cards.get(p);
    card.mark.checked = on;
    card.node.classList.toggle('marked', on);
    if (on) marked.add(p);
    else marked.delete(p);
}

/* ---- the foot -------------------------------------------------------------------------------- */

/* One word for a shell, whatever it holds: POSIX.1-2017, Shell Command Language, 2.2.2. */
const quote = (s) => (/^[\w@%+=:,./-]+$/.test(s) && s[0] !== '-' ? s : `'${s.replace(/'/g, "'\\''")}'`);

function folders() {
    if (location.protocol !== 'file:' || !data.shots_dir) return ['SHOTS_DIR', 'OUT_DIR'];
    const of = (rel) => decodeURIComponent(new URL(href(rel) + '/', location.href).pathname)
        .replace(/(.)\/$/, '$1');
    return [of(data.shots_dir), of('.')];
}

function save() {
    const blob = new Blob([JSON.stringify(Object.assign({ schema: 1, kind: '', saved: now() },
        store.file()), null, 1) + '\n'], { type: 'application/json' });
    const a = el('a', { href: URL.createObjectURL(blob), download: 'corrections.json' });
    a.click();
    setTimeout(() => URL.revokeObjectURL(a.href), 60000);
    savedNow = true;
    store.markSaved();
}

async function copy(text, node) {
    try {
        await navigator.clipboard.writeText(text);
    } catch (e) {
        getSelection().selectAllChildren(node);
        document.execCommand('copy');
    }
}

function drawFoot() {
    const n = store.editedPages();
    const foot = document.getElementById('foot');
    const parts = [];

    if (store.unsaved)
        parts.push(el('div', { class: 'row' }, el('span', {}, `${plural(n, 'change')} not saved yet`
            + (store.keeps ? ', kept in this browser.' : '. This browser keeps nothing: save before you close it.')),
        button('Save corrections.json', save, { id: 'save' })));
    else if (savedNow || n) {
        const [shots, out] = folders();
        const text = `squareleaf album ${quote(shots)} ${quote(out)}`;
        const code = el('code', { class: 'command', id: 'command' }, text);
        const said = el('span', { role: 'status' });
        parts.push(el('p', {}, 'Saved. Move corrections.json beside the shots or into the folder of this page '
            + '(a number in its name does no harm), then run:'), code,
        el('div', { class: 'row' }, button('Copy the command', () => copy(text, code).then(() => {
            said.textContent = 'Copied.';
        }), { id: 'copy' }), said, button('Save again', save),
        el('span', { class: 'quiet' }, 'Or leave the file where it is, and add --corrections with its name.')));
    }
    foot.hidden = !parts.length;
    foot.replaceChildren(el('div', { class: 'inner' }, ...parts));
}

/* ---- all together ---------------------------------------------------------------------------- */

store.listen((sha) => {
    if (sha) {
        const p = bySha.get(sha);
        for (const [q, card] of cards) if (q === p) card.draw();
    } else {
        for (const card of cards.values()) card.draw();
    }
    drawHead();
    drawFoot();
});
addEventListener('beforeprint', () => {
    for (const img of document.images) img.loading = 'eager';
});
drawHead();
drawPages();
drawFoot();
if (location.hash) {
    const at = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (at) at.scrollIntoView();
}
