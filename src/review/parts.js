/* Small parts. Text only ever goes in as text: names and captions are somebody else's. */
function el(tag, props, ...children) {
    const e = document.createElement(tag);
    for (const [k, v] of Object.entries(props || {})) {
        if (v === undefined || v === null || v === false) continue;
        if (k === 'on') for (const [type, f] of Object.entries(v)) e.addEventListener(type, f);
        else if (k === 'class') e.className = v;
        else if (v === true) e.setAttribute(k, '');
        else e.setAttribute(k, v);
    }
    e.append(...children.filter((c) => c !== null && c !== undefined && c !== false));
    return e;
}

function svg(tag, props, ...children) {
    const e = document.createElementNS('http://www.w3.org/2000/svg', tag);
    for (const [k, v] of Object.entries(props || {})) e.setAttribute(k, v);
    e.append(...children);
    return e;
}

const button = (text, f, props) =>
    el('button', Object.assign({ type: 'button', on: { click: f } }, props), text);

/* Somebody's text, which may run from right to left: it stays in its place. */
const name = (text) => el('bdi', {}, text);

/* A link to a file beside this page; each part of its path is a name, whatever is in it. */
const href = (path) => path.split('/').map(encodeURIComponent).join('/');

const label = (page) => (page || '').replace(/^page-0*(?=\d)/, '') || '?';

const shapes = {
    pass: 'M3 9l4 4 8-9', accepted: 'M1 9l4 4 7-9M8 13l8-9', look: 'M9 2l8 14H1zM9 7v4M9 13v1',
    reshoot: 'M3 3h12v12H3zM6 6l6 6M12 6l-6 6', refused: 'M3 3h12v12H3zM6 6l6 6M12 6l-6 6',
    failed: 'M9 1a8 8 0 100 16A8 8 0 009 1zM4 4l10 10',
};
const verdictWords = {
    pass: 'Passed', look: 'Look at it', reshoot: 'Photograph again', failed: 'Cannot be read',
    accepted: 'Accepted', refused: 'Refused: photograph again',
};

function verdict(kind, text) {
    const mark = svg('svg', { viewBox: '0 0 18 18', 'aria-hidden': 'true' },
        svg('path', { d: shapes[kind], fill: 'none', stroke: 'currentColor', 'stroke-width': 2 }));
    return el('span', { class: 'verdict ' + kind }, mark, text || verdictWords[kind]);
}

/* The word that stands for a page, now: the browser's, or the last run's. */
function wordOf(p) {
    const w = store.get(p.sha256, 'word');
    return w && w.outline === p.outline_key && !store.edited(p.sha256).includes('corners') ? w : null;
}

function kindOf(p) {
    const w = wordOf(p);
    return w && p.outcome !== 'failed' ? w.says : p.outcome;
}

const needsPerson = (p) => !['pass', 'accepted'].includes(kindOf(p));

function say(p, says) {
    const w = wordOf(p);
    store.put(p.sha256, 'word', w && w.says === says ? null
        : { says, who: store.who, when: now(), outline: p.outline_key });
}

const plural = (n, one, many) => n + ' ' + (n === 1 ? one : many || one + 's');
const round = (v, digits) => Number(v).toFixed(digits);

/* Pages in the order that the person gave; those that are not listed follow the one before them. */
function inOrder() {
    const rank = new Map((store.order || []).map((sha, i) => [sha, i + 1]));
    let last = 0;
    return pages.map((p, i) => {
        last = rank.get(p.sha256) || last;
        return { p, r: last, i };
    }).sort((a, b) => a.r - b.r || a.i - b.i).map((x) => x.p);
}

const turnOf = (p) => {
    const t = store.get(p.sha256, 'turn');
    return t === undefined ? data.turn : t;
};
const turnMade = (p) => {
    const t = store.base(p.sha256).turn;
    return t === undefined ? data.turn : t;
};

function turnBy(p, degrees) {
    const t = (turnOf(p) + degrees + 360) % 360;
    store.put(p.sha256, 'turn', t === data.turn && store.base(p.sha256).turn === undefined ? null : t);
}
