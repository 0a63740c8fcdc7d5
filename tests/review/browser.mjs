// A page of review.html in a headless Chromium, and checks that a shell can count.
// usage of each script: node SCRIPT NODE_MODULES CHROMIUM OUT_DIR ...
import { createRequire } from 'node:module';
import { pathToFileURL } from 'node:url';

const [, , modules, executablePath, ...rest] = process.argv;
const { chromium } = createRequire(modules + '/')('playwright-core');

export const args = rest;
export const address = (dir) => pathToFileURL(dir + '/review.html').href;

export function check(what, good, why) {
    console.log(`${good ? 'pass' : 'fail'}|${what}|${good ? '' : String(why).replace(/\n/g, ' ')}`);
    return good;
}

export const equal = (what, seen, wanted) =>
    check(what, JSON.stringify(seen) === JSON.stringify(wanted),
        `${JSON.stringify(seen)}, not ${JSON.stringify(wanted)}`);

// Runs f(page) in a fresh browser; whatever the page throws or is denied is a failure.
export async function visit(dir, options, f) {
    const browser = await chromium.launch({ executablePath, args: ['--no-sandbox'] });
    const context = await browser.newContext(Object.assign({ acceptDownloads: true }, options));
    const page = await context.newPage();
    const wrong = [];
    page.on('pageerror', (e) => wrong.push(e.message));
    page.on('console', (m) => m.type() === 'error' && wrong.push(m.text()));
    page.on('dialog', (d) => { wrong.push('dialog: ' + d.message()); d.dismiss(); });
    page.on('request', (r) => /^(file|data|blob):/.test(r.url()) || wrong.push('asks for ' + r.url()));
    page.setDefaultTimeout(20000);
    try {
        await page.goto(address(dir));
        await f(page);
    } catch (e) {
        check('the visit', false, e.stack);
    }
    equal('no script error, no question, no request to anywhere', wrong, []);
    await browser.close();
}

export async function save(page, path) {
    const [download] = await Promise.all([page.waitForEvent('download'), page.click('#save')]);
    equal('the file is called', download.suggestedFilename(), 'corrections.json');
    await download.saveAs(path);
}

export const card = (page, number) => page.locator('article.page',
    { has: page.getByRole('heading', { name: `Page ${number}`, exact: true }) });
