// 300 pages stay quick and load their pictures late; names and captions that attack are inert.
import { readFileSync } from 'node:fs';
import { args, check, equal, visit } from './browser.mjs';

const [out] = args;
const report = JSON.parse(readFileSync(out + '/report.json', 'utf8'));

await visit(out, { viewport: { width: 1280, height: 900 } }, async (page) => {
    equal('all pages are there', await page.locator('article.page').count(), 300);
    const loaded = await page.evaluate(() => performance.getEntriesByType('resource')
        .filter((r) => r.initiatorType === 'img').length);
    check('pictures load when they come into view', loaded < 120, `${loaded} of 600 at once`);
    const cdp = await page.context().newCDPSession(page);
    await cdp.send('Performance.enable', { timeDomain: 'threadTicks' }); // of the thread, not the wall
    await page.reload();
    const figures = Object.fromEntries((await cdp.send('Performance.getMetrics')).metrics
        .map((m) => [m.name, m.value]));
    check('first view under a second of script time', figures.ScriptDuration < 1,
        `${figures.ScriptDuration} s`);
    console.log(`figure|script time of 300 pages|${figures.ScriptDuration.toFixed(2)} s`);
    equal('names stand there as they are', await page.locator('article.page header bdi')
        .evaluateAll((all) => all.slice(0, 8).map((e) => e.textContent)), report.pages.slice(0, 8).map((p) => p.shot));
    equal('captions too', await page.locator('article.page .said > p[dir]')
        .evaluateAll((all) => all.slice(0, 8).map((e) => e.textContent)),
    report.pages.slice(0, 8).map((p) => p.correction.caption));
    equal('nothing of them became an element', await page.evaluate(() =>
        document.querySelectorAll('img[src="x"], svg[onload], iframe, b i u').length
            + (window.attacked ? 1 : 0)), 0);
    await page.locator('#filter').selectOption('open');
    check('a filter shows fewer', await page.locator('article.page').count() < 300, 'all');
});
