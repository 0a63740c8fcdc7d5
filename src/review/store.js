/*
 * What a person has said: `base` is what the last run was told (in the data), `edits` what was said
 * since, kept in the browser under the album's place. null in an edit takes the base's word back.
 */
const data = JSON.parse(document.getElementById('data').textContent);
const pages = data.pages;
const bySha = new Map(pages.map((p) => [p.sha256, p]));
for (const s of data.left_out) bySha.set(s.sha256, s);

const store = (() => {
    const place = 'squareleaf ' + decodeURIComponent(location.pathname);
    let keeps = true;
    let kept = {};
    const listeners = [];

    try {
        kept = JSON.parse(localStorage.getItem(place)) || {};
        localStorage.setItem(place + '?', '1');
        localStorage.removeItem(place + '?');
    } catch (e) {
        keeps = false;
    }
    const edits = kept.edits || {};
    let order = kept.order || null;
    let saved = kept.saved || '';
    let who = '';
    try {
        who = localStorage.getItem('squareleaf who') || '';
    } catch (e) { /* asked again, then */ }

    const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
    const empty = (v) => v === undefined || v === null || v === '' || v === false;
    const base = (sha) => (bySha.get(sha) || {}).correction || {};

    /* What a run has taken in is no edit any more. */
    for (const sha of Object.keys(edits)) {
        for (const f of Object.keys(edits[sha]))
            if (!bySha.has(sha) || same(edits[sha][f], base(sha)[f])
                || (empty(edits[sha][f]) && empty(base(sha)[f])))
                delete edits[sha][f];
        if (!Object.keys(edits[sha]).length) delete edits[sha];
    }
    if (order && same(order, data.order)) order = null;

    function keep() {
        try {
            localStorage.setItem(place, JSON.stringify({ edits, order, saved }));
        } catch (e) {
            keeps = false;
        }
    }

    function get(sha, field) {
        const e = edits[sha];
        const v = e && field in e ? e[field] : base(sha)[field];
        return v === null ? undefined : v;
    }

    function put(sha, field, value) {
        const e = edits[sha] || (edits[sha] = {});
        if (same(value, base(sha)[field]) || (empty(value) && empty(base(sha)[field])))
            delete e[field];
        else
            e[field] = empty(value) ? null : value;
        if (!Object.keys(e).length) delete edits[sha];
    }

    function changed(sha) {
        keep();
        for (const f of listeners) f(sha);
    }

    /* The whole of corrections.json. */
    function file() {
        const shots = {};
        for (const [sha, p] of bySha) {
            const entry = Object.assign({}, base(sha));
            for (const [f, v] of Object.entries(edits[sha] || {}))
                if (v === null) delete entry[f];
                else entry[f] = v;
            delete entry.sha256;
            if (entry.word && p.outline_key && entry.word.outline !== p.outline_key)
                delete entry.word;     /* it fell */
            if (!entry.corners) {
                delete entry.exact;
                delete entry.size;
            }
            const said = Object.keys(entry).filter((f) => f !== 'shot' && f !== 'page');
            if (said.length)
                shots[sha] = Object.assign({ shot: p.shot, page: p.page || '' }, entry);
        }
        const all = { schema: 1, kind: 'squareleaf corrections', shots };
        const o = order || data.order;
        if (o) all.order = o;
        return all;
    }

    return {
        get,
        base,
        file,
        changed,
        set(sha, field, value) {
            put(sha, field, value);
            changed(sha);
        },
        setAll(shas, field, value) {
            for (const sha of shas) put(sha, field, value(sha));
            changed(null);
        },
        put,
        edited: (sha) => Object.keys(edits[sha] || {}),
        editedPages: () => Object.keys(edits).length + (order ? 1 : 0),
        listen: (f) => listeners.push(f),
        get keeps() { return keeps; },
        get order() { return order || data.order; },
        set order(o) {
            order = same(o, data.order) || (!data.order && same(o, pages.map((p) => p.sha256)))
                ? null : o;
            changed(null);
        },
        get who() { return who; },
        set who(w) {
            who = w;
            try {
                localStorage.setItem('squareleaf who', w);
            } catch (e) { /* for this visit only */ }
        },
        get unsaved() {
            return (Object.keys(edits).length > 0 || order !== null)
                && JSON.stringify(file()) !== saved;
        },
        markSaved() {
            saved = JSON.stringify(file());
            changed(null);
        },
        reset(sha) {
            delete edits[sha];
            changed(sha);
        },
    };
})();

const now = () => new Date().toISOString().slice(0, 19) + 'Z';
