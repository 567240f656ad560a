// Starts the app, and lets the browser keep it for when there is no network.
import init, { begin } from '/app.js';

if ('serviceWorker' in navigator) {
  navigator.serviceWorker.register('/sw.js').catch(() => {});
}
init({ module_or_path: '/app_bg.wasm' }).then(begin, (fault) => {
  const said = document.createElement('p');
  said.className = 'strip needs';
  said.setAttribute('role', 'alert');
  said.textContent = `The app could not be opened (${fault.message}). This browser may be too old: open the page in a newer one.`;
  document.body.append(said);
});
