// Calculates beside the page: an errand in, its answer out, one at a time.
import init, { errand } from '/app.js';

const ready = init({ module_or_path: '/app_bg.wasm' });
self.onmessage = async (event) => {
  await ready;
  self.postMessage(errand(event.data));
};
