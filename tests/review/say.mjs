// Says things of pages as a person does, and saves. One JSON list: [[number, what, value], ...]
import { args, card, save, visit } from './browser.mjs';

const [out, file, list] = args;

await visit(out, { viewport: { width: 1280, height: 900 } }, async (page) => {
    await page.getByLabel('Your name').fill('Ada Orren');
    for (const [number, what, value] of JSON.parse(list)) {
        const c = card(page, number);
        if (what === 'mark') {
            await c.getByLabel('Mark').check();
            continue;
        }
        if (what === 'marked') {
            await page.getByRole('button', { name: value }).click();
            continue;
        }
        if (['caption', 'replaces', 'place'].includes(what)) {
            await c.getByRole('button', { name: 'Words, size, place' }).click();
            if (what === 'caption') await c.getByLabel('Caption').fill(value);
            else if (what === 'place') await c.getByLabel('Place in the album').fill(value);
            else await c.getByLabel('This shot replaces').selectOption({ label: value });
            await page.keyboard.press('Tab');
        } else if (what === 'outline') {
            await c.getByRole('button', { name: 'Set the outline' }).click();
            const shot = await page.locator('dialog .whole .fit img').boundingBox();
            for (const [fx, fy] of value)
                await page.mouse.click(shot.x + fx * shot.width, shot.y + fy * shot.height);
            await page.getByRole('button', { name: 'Take this outline' }).click();
        } else {
            await c.getByRole('button', { name: what, exact: true }).click();
        }
    }
    await save(page, file);
});
