/* One page: its pictures, what is known of it, and what can be said of it. */
const cards = new Map();
const marked = new Set();

const pictureOf = (p, ending) =>
    p.review && p.review.files.find((f) => f.endsWith(p.page + ending + '.jpg'));

function outlinePath(sides) {
    return 'M' + sides.flat().map((q) => q.map((v) => v + 0.5).join(' ')).join('L') + 'Z';
}

/* The thin outline over the shot: as found, and dashed as a person has set it. */
function drawOver(p, over) {
    const set = store.get(p.sha256, 'corners');
    const fresh = store.edited(p.sha256).includes('corners') && set;
    const d = fresh ? outlinePath([set]) : p.corners ? outlinePath(p.review.outline) : '';

    over.replaceChildren(...(d ? [svg('path', { d, class: 'under' }),
        svg('path', { d, class: 'line' + (fresh ? ' new' : '') })] : []));
}

function shotPicture(p) {
    const file = pictureOf(p, '.shot');
    if (!file) return { node: el('div', { class: 'frame' }, el('p', { class: 'none' }, 'No picture of this shot')) };
    const over = svg('svg', { class: 'over', viewBox: `0 0 ${p.width} ${p.height}`,
        preserveAspectRatio: 'none', 'aria-hidden': 'true' });
    return { over, node: el('div', { class: 'frame' }, el('div', { class: 'fit' },
        el('img', { src: href(file), loading: 'lazy', width: p.width, height: p.height,
            decoding: 'async', alt: `Shot of page ${label(p.page)}`
                + (p.corners ? ', with the outline that was found' : ', no page found') }), over)) };
}

function pagePicture(p) {
    const file = pictureOf(p, '');
    const big = (p.files.find((f) => /\.jpg$/.test(f)));
    if (!file && !big)
        return el('div', { class: 'frame' }, el('p', { class: 'none' },
            p.outcome === 'failed' ? 'No page: the file cannot be read' : 'No flat page was made'));
    const mm = p.page_mm || [p.written ? p.written.width : 1, p.written ? p.written.height : 1];
    const img = el('img', { src: href(file || big), loading: 'lazy', decoding: 'async',
        width: 640, height: Math.round(640 * mm[1] / mm[0]), alt: `Page ${label(p.page)}, flat` });
    return el('div', { class: 'frame' }, big ? el('a', { href: href(big),
        title: 'Open the page in full size' }, img) : img);
}

/* ---- in words -------------------------------------------------------------------------------- */

function figures(p) {
    const list = el('dl', { class: 'figures' });
    const add = (what, value) => value && list.append(el('dt', {}, what), el('dd', {}, value));
    const w = p.written;

    if (p.page_mm) {
        add('Size in print', `${round(p.page_mm[0], 1)} x ${round(p.page_mm[1], 1)} mm`);
        add('', `${round(p.page_mm[0] / 25.4, 2)} x ${round(p.page_mm[1] / 25.4, 2)} in`);
    } else if (w) {
        add('Size in print', 'not known');
    }
    if (w) add('Written', `${w.width} x ${w.height} px` + (w.ppi ? ` at ${round(w.ppi, 0)} ppi` : ''));
    if (p.native_ppi) add('The shot holds', `${round(p.native_ppi.p5, 0)} ppi`);
    if (p.inside_error_mm !== undefined && p.inside_error_mm !== null)
        add('True to within', `${round(p.inside_error_mm, 2)} ${p.page_mm ? 'mm' : 'thousandths of the width'}`);
    if (p.sharpness > 0) add('Sharpness', `${round(100 * p.sharpness, 0)} %`);
    if (p.evenness > 0) add('Evenness of light', `${round(100 * p.evenness, 0)} %`);
    if (p.tilt_deg !== undefined && p.tilt_deg !== null) add('Slant', `${round(p.tilt_deg, 1)} degrees`);
    return list;
}

const fieldWords = {
    corners: 'outline set by hand', exact: 'exactly as set', turn: 'turned', page_size: 'page size',
    leave_out: 'left out', replaces: 'replaces another shot', caption: 'caption', date: 'date',
    place: 'place', people: 'people', word: 'your word', checks: 'spot check', size: '',
};

function changesText(p) {
    const list = store.edited(p.sha256).map((f) => fieldWords[f]).filter(Boolean);
    return list.length ? 'Not saved yet: ' + list.join(', ') + '.' : '';
}

function reasonList(p) {
    const list = p.error ? [p.error] : (p.reasons || []).map((r) => r.text);
    if (!list.length) return el('p', { class: 'fine' }, 'Nothing stands against this page.');
    return el('ul', { class: 'reasons' }, ...list.map((t) => el('li', {}, t)));
}

function linkList(p) {
    const list = p.files.map((f) => el('a', { href: href(f) },
        /^masters\//.test(f) ? 'Master' : /^access\//.test(f) ? 'Access copy'
            : /\.jpg$/.test(f) ? 'Unfinished access copy' : 'Unfinished master'));
    return el('p', { class: 'row links' }, ...list);
}

/* ---- saying ---------------------------------------------------------------------------------- */

/* What is said of the page, here or in a table of captions that the last run read. */
const textOf = (p, key) => {
    const said = store.get(p.sha256, key);
    return said !== undefined ? said : !store.edited(p.sha256).includes(key) && p.words
        && p.words[key] || '';
};

function field(p, key, text, props) {
    const long = props && props.long;
    const input = el(long ? 'textarea' : 'input', Object.assign({ dir: 'auto',
        on: { change: () => store.set(p.sha256, key, input.value.trim()) } },
    long ? { rows: 2 } : { type: 'text' }, props && props.hint ? { placeholder: props.hint } : {}));
    input.value = textOf(p, key);
    return el('label', { class: long ? 'wide' : '' }, text, input);
}

const sizePattern = /^(\d+(\.\d+)?x\d+(\.\d+)?(in|mm|cm)|[ab]\d\d?|letter|legal)$/i;

function sizeField(p) {
    const id = 'size-' + p.page;
    const input = el('input', { type: 'text', placeholder: 'as the album', 'aria-describedby': id });
    const hint = el('span', { class: 'quiet', id }, 'Like 8x10in, 210x297mm or a4.');
    input.value = store.get(p.sha256, 'page_size') || '';
    input.addEventListener('change', () => {
        const v = input.value.trim();
        const good = v === '' || sizePattern.test(v);
        input.setAttribute('aria-invalid', String(!good));
        if (good) store.set(p.sha256, 'page_size', v);
    });
    return el('label', {}, 'Page size, where it has its own (a cover, an insert)', input, hint);
}

function replacesField(p) {
    const select = el('select', { on: { change: () => store.set(p.sha256, 'replaces', select.value) } },
        el('option', { value: '' }, 'none'),
        ...pages.filter((q) => q !== p && q.sha256 !== p.sha256).map((q) =>
            el('option', { value: q.sha256 }, `page ${label(q.page)}, ${q.shot}`)));
    const now = store.get(p.sha256, 'replaces') || '';
    if (now && ![...select.options].some((o) => o.value === now))
        select.append(el('option', { value: now }, 'an earlier shot'));
    select.value = now;
    return el('label', {}, 'This shot replaces the one of', select);
}

function placeField(p) {
    const list = inOrder();
    const input = el('input', { type: 'number', min: 1, max: list.length });
    input.value = list.indexOf(p) + 1;
    input.addEventListener('change', () => {
        const to = Math.min(list.length, Math.max(1, Math.round(Number(input.value)) || 1)) - 1;
        const shas = inOrder().filter((q) => q !== p).map((q) => q.sha256);
        shas.splice(to, 0, p.sha256);
        store.order = shas;
        drawPages();
        cards.get(p).node.scrollIntoView({ block: 'center' });
    });
    return el('label', {}, `Place in the album, of ${list.length}`, input);
}

function form(p) {
    return el('div', { class: 'form' },
        field(p, 'caption', 'Caption', { long: true }), field(p, 'date', 'Date', { hint: '1934-07, or about 1934' }),
        field(p, 'place', 'Place'), field(p, 'people', 'People', { hint: 'names, with ; between them' }),
        sizeField(p), replacesField(p), placeField(p),
        el('p', { class: 'row wide' },
            button('Take back what is not saved here', () => {
                store.reset(p.sha256);
                cards.get(p).open(true);
            })));
}

/* ---- the card -------------------------------------------------------------------------------- */

function makeCard(p) {
    const shot = shotPicture(p);
    const flat = pagePicture(p);
    const state = el('span', {});
    const word = el('p', { class: 'quiet' });
    const changes = el('p', { class: 'changes', hidden: true });
    const caption = el('p', { dir: 'auto' });
    const check = el('p', { class: 'quiet' });
    const accept = button('Accept', () => { say(p, 'accepted'); store.changed(p.sha256); },
        { title: 'I looked: the page is good as it is' });
    const refuse = button('Refuse', () => { say(p, 'refused'); store.changed(p.sha256); },
        { title: 'The page is not good: photograph it again' });
    const leave = button('Leave out', () =>
        store.set(p.sha256, 'leave_out', !store.get(p.sha256, 'leave_out')));
    const more = button('Words, size, place', () => card.open(more.getAttribute('aria-expanded') !== 'true'),
        { 'aria-expanded': 'false', class: 'wide' });
    const mark = el('input', { type: 'checkbox', on: { change: () => {
        if (mark.checked) marked.add(p);
        else marked.delete(p);
        node.classList.toggle('marked', mark.checked);
        drawTools();
    } } });
    let open = null;
    const node = el('article', { class: 'page', id: p.page, 'aria-labelledby': p.page + '-name' },
        el('header', {}, el('h2', { id: p.page + '-name' }, `Page ${label(p.page)}`),
            state, el('span', { class: 'quiet' }, name(p.shot)),
            el('label', { class: 'tick' }, mark, 'Mark')),
        el('figure', { class: 'picture' }, flat, el('figcaption', {}, 'The page, flat')),
        el('figure', { class: 'picture shot' }, shot.node, el('figcaption', {},
            p.corners ? 'The shot, with the outline' : 'The shot; no outline was found')),
        el('div', { class: 'said' }, caption, reasonList(p), word, changes, figures(p), linkList(p),
            check,
            el('div', { class: 'row acts' },
                p.outcome === 'failed' || !p.files.length ? null : accept,
                p.outcome === 'failed' ? null : refuse,
                p.files.length ? button('Turn left', () => { turnBy(p, -90); store.changed(p.sha256); }) : null,
                p.files.length ? button('Turn right', () => { turnBy(p, 90); store.changed(p.sha256); }) : null,
                p.review ? button('Set the outline', () => openOutline(p)) : null,
                leave, more)));
    const card = {
        node,
        mark,
        open(on) {
            if (open) open.remove();
            open = on ? form(p) : null;
            if (open) node.append(open);
            more.setAttribute('aria-expanded', String(on));
        },
        draw() {
            const w = wordOf(p);
            const out = store.get(p.sha256, 'leave_out');
            const text = textOf(p, 'caption');
            const done = checkOf(p);
            const turned = (turnOf(p) - turnMade(p) + 360) % 360;

            state.replaceChildren(out ? el('b', {}, 'Left out') : verdict(kindOf(p)));
            accept.setAttribute('aria-pressed', String(Boolean(w && w.says === 'accepted')));
            refuse.setAttribute('aria-pressed', String(Boolean(w && w.says === 'refused')));
            /* a word is about an outline, and this one has not been seen yet */
            accept.disabled = refuse.disabled = store.edited(p.sha256).includes('corners');
            leave.setAttribute('aria-pressed', String(Boolean(out)));
            word.textContent = w ? `${verdictWords[w.says].split(':')[0]} by ${w.who || 'a person'}, `
                + `${(w.when || '').slice(0, 10)}. The program said: ${verdictWords[p.outcome].toLowerCase()}.` : '';
            word.hidden = !w;
            changes.textContent = changesText(p);
            changes.hidden = !changes.textContent;
            caption.textContent = text || '';
            caption.hidden = !text;
            check.textContent = done ? `Checked at full size: ${done.result}${done.who ? ', ' + done.who : ''}`
                + `, ${(done.when || '').slice(0, 10)}.` : '';
            check.hidden = !done;
            flat.className = 'frame' + (turned ? ' q' + turned : '');
            if (shot.over) drawOver(p, shot.over);
        },
    };
    card.draw();
    return card;
}
