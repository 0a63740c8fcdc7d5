/*
 * Setting an outline. Coordinates are px of the upright shot, a pixel's centre a whole number; so
 * pixel x covers x to x + 1 of the picture's own width.
 */
const cornerNames = ['top left', 'top right', 'bottom right', 'bottom left'];

/* Corners as one sees them in the shot: from the one whose next side runs most to the right. */
function seen(corners) {
    let best = 0;
    let least = Infinity;
    for (let k = 0; k < 4; k++) {
        const a = corners[k];
        const b = corners[(k + 1) % 4];
        const off = Math.abs(Math.atan2(b[1] - a[1], b[0] - a[0]));
        if (off < least) {
            least = off;
            best = k;
        }
    }
    return [0, 1, 2, 3].map((i) => (best + i) % 4);
}

function openOutline(p) {
    const start = store.get(p.sha256, 'corners') || p.corners
        || p.review.corner_at.map((q) => q.map((v) => v + p.review.window / 2));
    const corners = start.map((q) => q.map((v) => Math.round(v * 10) / 10));
    const order = seen(corners);         /* order[i]: index of the corner shown at place i */
    const made = seen(p.corners || corners);
    const scale = p.review.scale;
    const shotFile = href(pictureOf(p, '.shot'));
    const edgeFile = href(pictureOf(p, '.edges'));
    const side = p.review.window;
    const back = document.activeElement;
    let zoom = 1;
    let chosen = 0;

    const path = svg('path', { class: 'under' });
    const line = svg('path', { class: 'line' });
    const unit = Math.max(p.width, p.height) / 90;
    const handles = order.map(() => svg('circle', { class: 'handle', r: unit }));
    const over = svg('svg', { class: 'over', viewBox: `0 0 ${p.width} ${p.height}`,
        preserveAspectRatio: 'none', 'aria-hidden': 'true' }, path, line, ...handles);
    const picture = el('img', { src: shotFile, alt: 'The whole shot', draggable: 'false',
        width: p.width, height: p.height });
    const fit = el('div', { class: 'fit' }, picture, over);
    const live = el('p', { class: 'quiet', 'aria-live': 'polite' });
    const exact = el('input', { type: 'checkbox' });
    exact.checked = Boolean(store.get(p.sha256, 'exact'));

    /* ---- the four windows ---- */

    const loupes = order.map((corner, i) => {
        const at = p.review.corner_at[made[i]];
        const place = made[i];
        const cutout = el('img', { src: edgeFile, alt: '' });
        const rough = el('img', { src: shotFile, alt: '' });
        const cut = el('div', { class: 'cut' }, cutout);
        const stage = el('div', { class: 'stage' }, rough, cut);
        const cross = [1, 2, 3, 4].map((k) => svg('line', { stroke: k < 3 ? '#000' : '#fff' }));
        const sides = [1, 2].map(() => svg('line', { stroke: '#ffd54a', 'stroke-dasharray': '6 4' }));
        const box = el('div', { class: 'loupe', tabindex: 0, role: 'group' }, stage,
            svg('svg', { 'aria-hidden': 'true' }, ...sides, ...cross));
        const told = el('b', {});
        const view = { x: 0, y: 0 };

        cutout.style.left = -(place % 2) * side + 'px';
        cutout.style.top = -Math.floor(place / 2) * side + 'px';
        cut.style.left = at[0] + 'px';
        cut.style.top = at[1] + 'px';
        cut.style.width = cut.style.height = side + 'px';
        rough.style.left = rough.style.top = '0px';
        rough.style.width = Math.floor(p.width / scale) * scale + 'px';

        const size = () => (box.clientWidth || 200) / zoom;
        const centre = () => {
            view.x = corners[corner][0] + 0.5 - size() / 2;
            view.y = corners[corner][1] + 0.5 - size() / 2;
        };
        const draw = (again) => {
            const c = corners[corner];
            const s = size();
            const margin = s * 0.12;
            if (again || c[0] < view.x + margin || c[0] > view.x + s - margin
                || c[1] < view.y + margin || c[1] > view.y + s - margin) centre();
            stage.style.transform = `scale(${zoom}) translate(${-view.x}px, ${-view.y}px)`;
            box.classList.toggle('large', zoom > 1);
            const x = (c[0] + 0.5 - view.x) * zoom;
            const y = (c[1] + 0.5 - view.y) * zoom;
            const w = s * zoom;
            const put = (l, x1, y1, x2, y2) => Object.entries({ x1, y1, x2, y2 })
                .forEach(([k, v]) => l.setAttribute(k, v));
            /* the cross leaves its middle free */
            put(cross[0], x - 1, 0, x - 1, Math.max(0, y - 5));
            put(cross[1], 0, y - 1, Math.max(0, x - 5), y - 1);
            put(cross[2], x, 0, x, Math.max(0, y - 5));
            put(cross[3], 0, y, Math.max(0, x - 5), y);
            cross[0].setAttribute('y2', w);
            cross[1].setAttribute('x2', w);
            cross[2].setAttribute('y2', w);
            cross[3].setAttribute('x2', w);
            [1, 3].forEach((step, k) => {
                const q = corners[order[(i + step) % 4]];
                put(sides[k], x, y, (q[0] + 0.5 - view.x) * zoom, (q[1] + 0.5 - view.y) * zoom);
            });
            const inside = c[0] >= at[0] && c[0] < at[0] + side && c[1] >= at[1] && c[1] < at[1] + side;
            told.textContent = `${cornerNames[i]}: ${round(c[0], 1)}, ${round(c[1], 1)}`;
            box.setAttribute('aria-label', `Corner ${cornerNames[i]}, x ${round(c[0], 1)}, y `
                + `${round(c[1], 1)} px. Arrow keys move it by a pixel, with Shift by ten.`);
            note.textContent = inside ? '' : 'Outside of the sharp part: set it roughly, the next run '
                + 'finds the edge near it and shows it sharp.';
        };
        const note = el('span', { class: 'quiet' });

        box.addEventListener('pointerdown', (e) => {
            const r = box.getBoundingClientRect();
            choose(i);
            move(i, Math.floor(view.x + (e.clientX - r.left) / zoom),
                Math.floor(view.y + (e.clientY - r.top) / zoom));
        });
        box.addEventListener('keydown', (e) => {
            const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1],
                ArrowDown: [0, 1] }[e.key];
            if (!by) return;
            const n = e.shiftKey ? 10 : 1;
            e.preventDefault();
            move(i, corners[corner][0] + n * by[0], corners[corner][1] + n * by[1]);
        });
        box.addEventListener('focus', () => choose(i));
        return { node: el('div', { class: 'corner' }, told, box, note), box, draw };
    });

    function move(i, x, y) {
        corners[order[i]] = [Math.min(p.width * 1.05, Math.max(-p.width * 0.05, x)),
            Math.min(p.height * 1.05, Math.max(-p.height * 0.05, y))].map((v) => Math.round(v * 10) / 10);
        draw(false);
        live.textContent = `${cornerNames[i]}: x ${round(corners[order[i]][0], 1)}, `
            + `y ${round(corners[order[i]][1], 1)}`;
    }

    function choose(i) {
        chosen = i;
        handles.forEach((h, k) => h.classList.toggle('on', k === i));
    }

    function draw(again) {
        const d = outlinePath([corners]);
        path.setAttribute('d', d);
        line.setAttribute('d', d);
        handles.forEach((h, i) => {
            h.setAttribute('cx', corners[order[i]][0] + 0.5);
            h.setAttribute('cy', corners[order[i]][1] + 0.5);
        });
        for (const l of loupes) l.draw(again);
    }

    /* ---- the whole shot: the nearest corner comes to where one points ---- */

    const toShot = (e) => {
        const r = picture.getBoundingClientRect();
        return [(e.clientX - r.left) / r.width * p.width - 0.5,
            (e.clientY - r.top) / r.height * p.height - 0.5];
    };
    fit.addEventListener('pointerdown', (e) => {
        const [x, y] = toShot(e);
        const far = (i) => Math.hypot(corners[order[i]][0] - x, corners[order[i]][1] - y);
        choose([0, 1, 2, 3].reduce((a, b) => (far(b) < far(a) ? b : a)));
        fit.setPointerCapture(e.pointerId);
        move(chosen, x, y);
        e.preventDefault();
    });
    fit.addEventListener('pointermove', (e) => {
        if (fit.hasPointerCapture(e.pointerId)) move(chosen, ...toShot(e));
    });

    /* ---- strips ---- */

    const strip = (i) => {
        const img = el('img', { src: edgeFile, alt: '' });
        img.style.top = -100 * (2 * side + i * p.review.strip) / p.review.strip + '%';
        const what = ['Top', 'Right', 'Bottom', 'Left'][i];
        const box = el('div', { class: 'strip', role: 'img', 'aria-label': what + ' edge' }, img,
            el('i', {}));
        box.style.aspectRatio = `${2 * side} / ${p.review.strip}`;
        return [el('span', { class: 'quiet' }, what), box];
    };

    /* ---- the dialog ---- */

    const larger = button('Three times as large', () => {
        zoom = zoom === 1 ? 3 : 1;
        larger.setAttribute('aria-pressed', String(zoom > 1));
        draw(true);
    }, { 'aria-pressed': 'false' });
    const goodShape = () => {
        const cross = [0, 1, 2, 3].map((k) => {
            const [a, b, c] = [0, 1, 2].map((i) => corners[(k + i) % 4]);
            return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]);
        });
        return cross.every((v) => v > 0) || cross.every((v) => v < 0);
    };
    const wrong = el('p', { class: 'reshoot', role: 'alert' });
    const take = button('Take this outline', () => {
        if (!goodShape()) {
            wrong.textContent = 'These corners do not go round a page: one lies on the wrong side.';
            return;
        }
        store.put(p.sha256, 'corners', corners);
        store.put(p.sha256, 'size', [p.width, p.height]);
        store.put(p.sha256, 'exact', exact.checked);
        store.put(p.sha256, 'word', null);       /* it was about another outline */
        store.changed(p.sha256);
        dialog.close();
    }, { class: 'main' });
    const dialog = el('dialog', { 'aria-labelledby': 'outline-title' },
        el('header', { class: 'row' },
            el('h2', { id: 'outline-title' }, `The outline of page ${label(p.page)}`), live,
            el('span', { class: 'grow' }), larger, take,
            button('Leave it as it was', () => dialog.close())),
        wrong,
        el('div', { class: 'bench' }, loupes[0].node,
            el('div', { class: 'whole' }, el('div', { class: 'frame' }, fit),
                el('p', { class: 'quiet' }, 'Point into the shot: the nearest corner comes. Then point '
                    + 'in its window, or use the arrow keys, to set it to the pixel.'),
                el('div', { class: 'strips' },
                    el('p', { class: 'quiet' }, 'Along the edges as they were found: the page is below '
                        + 'the dashed line, the table above it.'),
                    ...[0, 1, 2, 3].flatMap(strip))),
            loupes[1].node, loupes[3].node, loupes[2].node),
        el('div', { class: 'row acts' },
            store.base(p.sha256).corners || store.edited(p.sha256).includes('corners')
                ? button('Let the program find it', () => {
                    for (const f of ['corners', 'size', 'exact']) store.put(p.sha256, f, null);
                    store.changed(p.sha256);
                    dialog.close();
                }) : null,
            el('label', { class: 'tick' }, exact, 'Exactly as set here: do not settle on the edge nearby')));
    dialog.addEventListener('close', () => {
        removeEventListener('resize', redraw);
        dialog.remove();
        if (back) back.focus();
    });
    const redraw = () => draw(true);
    addEventListener('resize', redraw);
    document.body.append(dialog);
    dialog.showModal();
    draw(true);
    loupes[0].box.focus();
}
