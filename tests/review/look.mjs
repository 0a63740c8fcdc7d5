// Opens from disk, shows every page; corner windows by pointer and by keys; reload keeps the work.
import { readFileSync } from 'node:fs';
import { args, card, check, equal, save, visit } from './browser.mjs';

const [out, file] = args;
const report = JSON.parse(readFileSync(out + '/report.json', 'utf8'));

await visit(out, { viewport: { width: 1280, height: 900 } }, async (page) => {
    equal('every page is shown', await page.locator('article.page h2').allTextContents(),
        report.pages.map((p) => 'Page ' + Number(p.page.slice(5))));
    equal('every picture is there', await page.evaluate(async () => {
        const bad = [];
        for (const img of document.images) {
            img.loading = 'eager';
            await img.decode().catch(() => bad.push(img.src));
        }
        return bad;
    }), []);
    const passed = report.pages.filter((p) => p.outcome === 'pass').length;
    check('the head counts', (await page.locator('.counts').innerText()).includes(`${passed} passed`),
        await page.locator('.counts').innerText());
    check('every control has a name', await page.evaluate(() =>
        [...document.querySelectorAll('button, input, select, textarea, a')].every((e) =>
            (e.textContent || e.getAttribute('aria-label') || e.title || e.querySelector('img[alt]')
                || (e.labels && e.labels.length)))), 'one has none');
    check('every picture has words', await page.evaluate(() =>
        [...document.images].every((i) => i.hasAttribute('alt'))), 'one has none');

    // Contrast of text on its ground: WCAG 2.2, 1.4.3, asks for 4.5 to 1.
    const faint = await page.evaluate(() => {
        const light = (c) => {
            const [r, g, b] = c.match(/[\d.]+/g).map(Number).map((v) => v / 255)
                .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
            return 0.2126 * r + 0.7152 * g + 0.0722 * b;
        };
        const ground = (e) => {
            for (; e; e = e.parentElement) {
                const c = getComputedStyle(e).backgroundColor;
                if (!/rgba\(0, 0, 0, 0\)/.test(c)) return c;
            }
            return 'rgb(255, 255, 255)';
        };
        return [...document.querySelectorAll('body *')].filter((e) => e.checkVisibility()
            && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim())
            && !e.closest('svg') && !e.disabled).filter((e) => {
            const a = light(getComputedStyle(e).color);
            const b = light(ground(e));
            return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05) < 4.5;
        }).map((e) => e.tagName + ' ' + e.textContent.slice(0, 30));
    });
    equal('all text stands out from its ground', faint, []);

    // ---- the outline, by pointer and by keys alone
    const first = report.pages[0];
    await card(page, 1).getByRole('button', { name: 'Set the outline' }).click();
    const loupe = page.getByRole('group', { name: /Corner top left/ });
    const told = async () => (await loupe.getAttribute('aria-label')).match(/-?\d+\.\d/g).map(Number);
    const [x, y] = await told();
    check('the window is about the corner that was found',
        Math.hypot(x - first.corners[0][0], y - first.corners[0][1]) < 0.1, `${x}, ${y}`);
    await loupe.focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('Shift+ArrowRight');
    equal('arrow keys move by a pixel, with Shift by ten', (await told()).map((v) => Math.round(10 * v)),
        [Math.round(10 * (x + 11)), Math.round(10 * (y + 1))]);
    const box = await loupe.boundingBox();
    const [x1, y1] = await told();
    const cross = await loupe.evaluate((e) => {
        const l = e.querySelectorAll('svg line');
        return [Number(l[4].getAttribute('x1')), Number(l[5].getAttribute('y1'))];
    });
    await page.mouse.click(box.x + cross[0] + 7, box.y + cross[1] + 5);
    const [x2, y2] = await told();
    check('a click moves it to the pixel under it', Math.abs(x2 - x1 - 7) <= 1 && Math.abs(y2 - y1 - 5) <= 1
        && x2 === Math.round(x2) && y2 === Math.round(y2), `${x1},${y1} -> ${x2},${y2}`);
    check('the thin outline follows', (await page.locator('dialog .over .line').getAttribute('d'))
        .startsWith(`M${x2 + 0.5} ${y2 + 0.5}`) || first.corners[0][0] < 0, 'it does not');
    await page.getByRole('button', { name: 'Take this outline' }).click();
    check('the card says so', (await card(page, 1).innerText()).includes('Not saved yet: outline set by hand'),
        await card(page, 1).innerText());
    await page.reload();
    check('a reload keeps the work', (await card(page, 1).innerText()).includes('outline set by hand'),
        await card(page, 1).innerText());
    await save(page, file);
    const said = JSON.parse(readFileSync(file, 'utf8'));
    equal('the file has the form', [said.schema, said.kind, Object.keys(said.shots)],
        [1, 'squareleaf corrections', [first.sha256]]);
    equal('and the corner', said.shots[first.sha256].corners[0], [x2, y2]);
    equal('and nothing else', Object.keys(said.shots[first.sha256]).sort(), ['corners', 'page', 'shot', 'size']);
    check('the next command is there', /^squareleaf album \S+ \S+$/.test(await page.locator('#command').innerText()),
        await page.locator('#command').innerText());
    console.log('command|' + await page.locator('#command').innerText());

    // ---- by keys alone: a page is refused; not the first, whose outline is new
    await page.locator('#filter').focus();
    for (let i = 0; i < 60; i++) {
        await page.keyboard.press('Tab');
        if (await page.evaluate(() => document.activeElement.textContent === 'Refuse')) break;
    }
    await page.keyboard.press('Enter');
    check('a page with a new outline waits for its run', await card(page, 1)
        .getByRole('button', { name: 'Refuse' }).isDisabled(), 'it can be refused');
    check('Tab and Enter refuse a page', await page.evaluate(() =>
        document.activeElement.textContent === 'Refuse'
            && document.activeElement.getAttribute('aria-pressed') === 'true'), 'they do not');
    const outline = await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle);
    check('focus is seen', outline === 'solid', outline);
});

await visit(out, { viewport: { width: 390, height: 844 } }, async (page) => {
    equal('no sideways scrolling on a phone', await page.evaluate(() =>
        document.documentElement.scrollWidth), 390);
    await card(page, 1).getByRole('button', { name: 'Set the outline' }).click();
    check('nor in the outline', await page.evaluate(() => {
        const d = document.querySelector('dialog');
        return d.scrollWidth <= d.clientWidth && d.querySelectorAll('.loupe').length === 4;
    }), 'it does');
    await page.keyboard.press('Escape');
    await page.emulateMedia({ media: 'print' });
    check('on paper: pictures without controls', await page.evaluate(() =>
        [...document.querySelectorAll('button')].every((b) => !b.checkVisibility())), 'a button is printed');
});
