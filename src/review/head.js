/* The head: how the album stands, what to do next, and how fine the shots are. */
function counts() {
    const n = { pass: 0, accepted: 0, look: 0, reshoot: 0, refused: 0, failed: 0 };
    for (const p of pages) if (!store.get(p.sha256, 'leave_out')) n[kindOf(p)]++;
    return n;
}

/* Native ppi of each page, in order: a dot above the wanted density, a ring below it. */
function plot() {
    const seen = inOrder().map((p, i) => ({ p, i, v: p.native_ppi && p.native_ppi.p5 }))
        .filter((x) => x.v > 0);
    if (seen.length < 2) return null;
    const values = seen.map((x) => x.v);
    const sorted = [...values].sort((a, b) => a - b);
    const top = Math.max(data.ppi, sorted[sorted.length - 1]) * 1.08;
    const W = 480, H = 150, left = 34, right = 8, foot = 22;
    const x = (i) => left + (W - left - right) * (pages.length > 1 ? i / (pages.length - 1) : 0.5);
    const y = (v) => 8 + (H - 8 - foot) * (1 - v / top);
    const text = `Shots hold ${round(sorted[0], 0)} to ${round(sorted[sorted.length - 1], 0)} `
        + `pixels per inch of page, half of them ${round(sorted[sorted.length >> 1], 0)} or more. `
        + `Wanted are ${round(data.ppi, 0)}.`;
    const r = seen.length > 120 ? 2 : 3.5;
    const s = svg('svg', { viewBox: `0 0 ${W} ${H}`, role: 'img', 'aria-label': text },
        svg('line', { x1: left, x2: W - right, y1: y(0), y2: y(0), stroke: '#4d5153' }),
        svg('line', { x1: left, x2: W - right, y1: y(data.ppi), y2: y(data.ppi), stroke: '#4d5153',
            'stroke-dasharray': '5 4' }),
        svg('text', { x: left - 5, y: y(data.ppi) + 4, 'text-anchor': 'end' }, round(data.ppi, 0)),
        svg('text', { x: left - 5, y: y(0) + 4, 'text-anchor': 'end' }, '0'),
        svg('text', { x: left, y: H - 4 }, 'first page'),
        svg('text', { x: W - right, y: H - 4, 'text-anchor': 'end' }, 'last page'));
    for (const { p, i, v } of seen)
        s.append(svg('circle', { cx: x(i), cy: y(v), r, stroke: '#1f4763',
            fill: v >= data.ppi ? '#1f4763' : '#fff' },
        svg('title', {}, `page ${label(p.page)}: ${round(v, 0)} ppi`)));
    return el('figure', { class: 'plot' }, el('h2', {}, 'How fine the shots are'), s,
        el('figcaption', { class: 'quiet' }, text
            + (sorted[0] < data.ppi ? ' Files written finer than their shot show no more for it.' : '')));
}

function pageLinks(list) {
    const few = list.slice(0, 12);
    const links = few.flatMap((p, i) => [i ? ', ' : '',
        el('a', { href: '#' + p.page }, label(p.page))]);
    return el('span', {}, ...links, list.length > few.length ? ` and ${list.length - few.length} more` : '');
}

function steps(n) {
    const all = inOrder().filter((p) => !store.get(p.sha256, 'leave_out'));
    const of = (...kinds) => all.filter((p) => kinds.includes(kindOf(p)));
    const list = el('ol', { class: 'steps' });
    const add = (...c) => list.append(el('li', {}, ...c));
    const again = of('reshoot', 'refused');
    const look = of('look');
    const failed = of('failed');
    const spots = spotPages();
    const left = spots.filter((p) => !checkOf(p));

    if (again.length)
        add(`Photograph ${plural(again.length, 'page')} again: page `, pageLinks(again),
            '. Put the new shots into the folder of shots. Under the old name a shot takes its page; '
            + 'under a new one say at the new page which it replaces. A page that is good as it is '
            + 'can be accepted; a wrong outline can be set right.');
    if (failed.length)
        add(`Copy ${plural(failed.length, 'file')} again from the camera or card: page `,
            pageLinks(failed), failed.length > 1 ? '. Or leave them out.' : '. Or leave it out.');
    if (look.length)
        add(`Look at ${plural(look.length, 'page')}: page `, pageLinks(look),
            '. Accept what is good, set wrong outlines right.');
    if (!spots.length && pages.some((p) => p.files.length))
        add('The spot check needs access copies, and this album has none: open some masters.');
    if (left.length)
        add(`Check ${plural(left.length, 'page')} at full size, picked by lot: `,
            button('Begin the spot check', openSpots));
    if (store.unsaved)
        add('Save what you said, and run the command that is then shown below.');
    if (!list.children.length)
        add(n.pass + n.accepted === pages.length || !pages.length
            ? 'Nothing. Every page has passed or was accepted.' : 'Run the command below.');
    return list;
}

function drawHead() {
    const n = counts();
    const list = el('ul', { class: 'counts' });
    const words = { pass: 'passed', accepted: 'accepted', look: 'to look at',
        reshoot: 'to photograph again', refused: 'refused', failed: 'cannot be read' };

    for (const kind of Object.keys(n))
        if (n[kind]) list.append(el('li', {}, verdict(kind, `${n[kind]} ${words[kind]}`)));
    const lead = el('div', { class: 'lead' },
        el('div', {},
            el('h1', {}, plural(pages.length, 'page'), ' to look through'), list,
            ...data.faults.map((f) => el('p', { class: 'faults' }, el('b', {}, 'The whole album: '),
                f.text)),
            ...data.not_applied.slice(0, 20).map((r) => el('p', { class: 'faults' },
                el('b', {}, 'Not applied: '), name(r.page), `: ${r.field} ${r.why}`)),
            el('section', { class: 'next' }, el('h2', {}, 'What to do next'), steps(n))),
        plot() || '');
    document.getElementById('head').replaceChildren(el('div', { class: 'inner' }, lead));
}
