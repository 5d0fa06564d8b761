// Opens pages in Chromium and says what it saw, as one line of JSON.
//
//   node check.js FOLDER PLAN.json
//
// FOLDER holds node_modules; the plan says what to open (browser_test.go).
// Pages are judged by axe-core in both themes at 1,280 and 320 pixels; at these
// and at 640 (1,280 at 200 % zoom) nothing may be wider than the window. Hostile pages are opened, and everything in
// them that could run is looked for and poked.
'use strict';
const fs = require('fs');
const path = require('path');
const [folder, file] = process.argv.slice(2);
const load = name => require(path.join(folder, 'node_modules', name));
const { chromium } = load('playwright-core');
const axe = fs.readFileSync(path.join(folder, 'node_modules', 'axe-core', 'axe.min.js'), 'utf8');
const plan = JSON.parse(fs.readFileSync(file, 'utf8'));
const views = [[1280, 'light'], [1280, 'dark'], [640, 'light'], [320, 'light'], [320, 'dark']];
const zoomed = 640; // laid out as at 320
const said = { Checked: 0, Violations: 0, Opened: 0, Scripts: 0, Reports: 0, Elsewhere: 0, Overflow: 0, Details: [] };
const tell = text => { if (said.Details.length < 60) said.Details.push(text); };
const address = p => p.startsWith('http') ? p : plan.Base + p;

// watch counts what a page runs, what the policy refuses and what is asked
// for elsewhere. It stands in the browser, so the page's policy cannot stop it.
async function watch(context) {
  await context.exposeFunction('__seen', (kind, what) => {
    said[kind]++;
    tell(`${kind}: ${what}`);
  });
  await context.addInitScript(() => {
    for (const name of ['alert', 'confirm', 'prompt', 'print', 'open']) {
      window[name] = () => window.__seen('Scripts', name);
    }
    document.addEventListener('securitypolicyviolation', e => window.__seen('Reports', e.violatedDirective + ' ' + e.blockedURI));
    new MutationObserver(list => {
      for (const m of list) for (const n of m.addedNodes) {
        if (n.nodeName === 'SCRIPT') window.__seen('Scripts', 'a script element');
      }
    }).observe(document, { childList: true, subtree: true });
  });
  context.on('request', r => {
    const url = new URL(r.url());
    if (url.hostname !== '127.0.0.1' || !['http:'].includes(url.protocol)) {
      said.Elsewhere++;
      tell(`Elsewhere: ${url.protocol}//${url.hostname}`);
    }
  });
}

// active is everything of a page that could run or load.
function active() {
  const bad = [];
  const allowed = new Set(['/style.css', '/icon.svg']);
  for (const e of document.querySelectorAll('*')) {
    if (['SCRIPT', 'IFRAME', 'OBJECT', 'EMBED', 'IMG', 'BASE', 'VIDEO', 'AUDIO', 'SOURCE', 'STYLE', 'TEMPLATE', 'foreignObject', 'use', 'animate', 'set'].includes(e.nodeName)) bad.push(e.nodeName);
    if (e.nodeName === 'META' && !['color-scheme', 'viewport'].includes(e.name) && !e.hasAttribute('charset')) bad.push('META');
    if (e.nodeName === 'LINK' && !allowed.has(new URL(e.href).pathname)) bad.push('LINK');
    for (const a of e.attributes) {
      if (a.name.startsWith('on') || a.name === 'style' || a.name === 'srcset' || a.name === 'srcdoc') bad.push(`${e.nodeName} ${a.name}`);
      if (['href', 'src', 'action', 'formaction', 'xlink:href'].includes(a.name) && !/^(#[A-Za-z0-9-]+|\/[^/\\]?.*)$/.test(a.value)) bad.push(`${e.nodeName} ${a.name}`);
    }
  }
  return bad;
}

async function main() {
  const browser = await chromium.launch({
    executablePath: process.env.WEIR_CHROMIUM || '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
  for (const [width, theme] of views) {
    if (!plan.Pages) break;
    const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme: theme, reducedMotion: 'reduce' });
    await watch(context);
    const page = await context.newPage();
    for (const [i, p] of plan.Pages.entries()) {
      await page.goto(address(p));
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      if (wide > 0) {
        said.Overflow++;
        tell(`${p} is ${wide} pixels wider than ${width}`);
      }
      if (plan.Pictures) {
        await page.screenshot({ path: path.join(plan.Pictures, `${i}-${width}-${theme}.png`), fullPage: true });
      }
      if (width === zoomed) continue;
      await page.evaluate(() => { for (const d of document.querySelectorAll('details')) d.open = true; });
      await page.evaluate(axe);
      const result = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'], runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }));
      said.Checked++;
      for (const v of result.violations) {
        said.Violations++;
        tell(`${p} ${width} ${theme}: ${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(' | ')}`);
      }
    }
    await context.close();
  }
  if (plan.Hostile) {
    const context = await browser.newContext({ viewport: { width: 1280, height: 900 } });
    await watch(context);
    const page = await context.newPage();
    page.on('dialog', d => { said.Scripts++; tell('Scripts: a dialog'); d.dismiss(); });
    page.on('console', m => { if (/content security policy/i.test(m.text())) { said.Reports++; tell('Reports: in the console'); } });
    for (const p of plan.Hostile) {
      await page.goto(address(p));
      said.Opened++;
      for (const bad of await page.evaluate(active)) {
        said.Scripts++;
        tell(`${p}: ${bad}`);
      }
      await page.evaluate(() => {
        for (const d of document.querySelectorAll('details')) d.open = true;
        for (const e of document.querySelectorAll('main a, main summary, main figure, main td')) {
          for (const kind of ['mouseover', 'focus', 'mouseenter', 'pointerenter']) e.dispatchEvent(new Event(kind, { bubbles: true }));
        }
      });
    }
    await context.close();
  }
  await browser.close();
  process.stdout.write(JSON.stringify(said) + '\n');
}

main().catch(e => { console.error(e); process.exit(1); });
