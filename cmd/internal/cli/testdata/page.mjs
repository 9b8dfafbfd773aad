// Opens a page in headless Chromium at several widths, light and dark, and prints
// a JSON list of what is wrong with it. Arguments: the page, the browser, a
// folder to print PDFs into, and the number of printed pages, 0 for any. NODE_PATH does not reach modules, so the tools are
// loaded from the folder that PAGE_TOOLS names.
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';

const tools = createRequire(process.env.PAGE_TOOLS + '/');
const puppeteer = tools('puppeteer-core');
const axe = readFileSync(tools.resolve('axe-core/axe.min.js'), 'utf8');
const [file, executablePath, folder, pages] = process.argv.slice(2);
const address = pathToFileURL(file).href;
const wrong = [];

// What overlaps or leaves its place, as a reader sees it.
function look() {
  const found = [];
  const name = (e) => e.tagName.toLowerCase() + ' "' + (e.textContent || '').trim().replace(/\s+/g, ' ').slice(0, 40) + '"';
  const shown = (e) => { const r = e.getBoundingClientRect(); return r.width > 1 && r.height > 1; };
  const touch = (a, b, d) => a.left < b.right - d && b.left < a.right - d && a.top < b.bottom - d && b.top < a.bottom - d;
  const pairs = (list, what, d) => {
    const at = list.map((e) => e.getBoundingClientRect());
    for (let i = 0; i < at.length; i++) {
      for (let j = 0; j < i; j++) {
        if (touch(at[i], at[j], d)) found.push(what + ': ' + name(list[i]) + ' and ' + name(list[j]) + ' overlap');
      }
    }
  };
  const width = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth > width) found.push('the page scrolls sideways: ' + document.documentElement.scrollWidth + ' in ' + width);
  for (const e of document.querySelectorAll('h1,h2,h3,p,li,th,td,dt,dd,caption,svg text')) {
    const r = e.getBoundingClientRect();
    if (shown(e) && !e.closest('thead') && !e.matches('.skip') && (r.left < -1 || r.right > width + 1)) found.push(name(e) + ' leaves the screen');
    // The text of a picture is fitted into its length, whatever the font: its scroll width is not what is seen.
    if (!e.closest('svg') && e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 1 && !e.closest('thead') && getComputedStyle(e).display !== 'inline') found.push(name(e) + ' is cut off');
  }
  for (const row of document.querySelectorAll('tr')) pairs([...row.children].filter((e) => shown(e) && !e.closest('thead')), 'row', 1);
  for (const svg of document.querySelectorAll('svg')) {
    if (!shown(svg)) continue;
    const texts = [...svg.querySelectorAll('text')];
    pairs(texts, 'picture', 2);
    const frame = svg.getBoundingClientRect();
    for (const e of texts) {
      const r = e.getBoundingClientRect();
      if (r.left < frame.left - 1 || r.right > frame.right + 1 || r.top < frame.top - 1 || r.bottom > frame.bottom + 1) found.push(name(e) + ' leaves its picture');
      if (parseFloat(e.getAttribute('font-size')) * frame.width / svg.viewBox.baseVal.width < 11) found.push(name(e) + ' is too small to read');
    }
  }
  pairs([...document.querySelectorAll('main > section')].filter(shown), 'sections', 1);
  return [...new Set(found)];
}

const browser = await puppeteer.launch({ executablePath, args: ['--no-sandbox', '--disable-gpu'] });
try {
  for (const scheme of ['light', 'dark']) {
    for (const width of [390, 768, 1440]) {
      const at = scheme + ' ' + width + ': ';
      const page = await browser.newPage();
      page.on('console', (m) => { if (['error', 'warning', 'warn'].includes(m.type())) wrong.push(at + 'console: ' + m.text()); });
      page.on('pageerror', (e) => wrong.push(at + 'error: ' + e.message));
      page.on('request', (r) => { if (r.url() !== address && !r.url().startsWith('data:')) wrong.push(at + 'asks for ' + r.url()); });
      await page.setViewport({ width, height: 900 });
      await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }]);
      await page.goto(address, { waitUntil: 'load' });
      const paper = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor.match(/\d+/g).map(Number).reduce((a, b) => a + b));
      if ((await paper() < 384) !== (scheme === 'dark')) wrong.push(at + 'the paper does not follow the scheme');
      wrong.push(...(await page.evaluate(look)).map((s) => at + s));
      await page.keyboard.press('Tab');
      const first = await page.evaluate(() => document.activeElement.getAttribute('href') || '');
      if (!first.startsWith('#')) wrong.push(at + 'the first stop of the keyboard is no link: ' + first);
      await page.evaluate(axe);
      const result = await page.evaluate(() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }));
      for (const v of result.violations) wrong.push(at + 'axe ' + v.id + ': ' + v.help + ' at ' + v.nodes.slice(0, 3).map((n) => n.target.join(' ')).join(', '));
      if (result.passes.length < 10) wrong.push(at + 'axe looked at too little');
      if (width === 768) {
        for (const format of ['A4', 'Letter']) {
          const pdf = await page.pdf({ format, path: folder + '/' + format + '.pdf', printBackground: true });
          if (pdf.length < 10000) wrong.push(at + format + ' prints to nothing');
          const count = Buffer.from(pdf).toString('latin1').match(/\/Type\s*\/Page[^s]/g).length;
          if (pages > 0 && count !== Number(pages)) wrong.push(at + format + ' prints to ' + count + ' pages, want ' + pages);
        }
        await page.emulateMediaType('print');
        if (await paper() < 384) wrong.push(at + 'dark paper is printed');
        await page.setViewport({ width: 688, height: 1000 }); // A4 less its margins, at 96 pixels an inch
        wrong.push(...(await page.evaluate(look)).map((s) => at + 'print: ' + s));
      }
      await page.close();
    }
  }
} finally {
  await browser.close();
}
console.log(JSON.stringify(wrong));
