// Calculates beside the page: an errand in, its answer out, one at a time.
import init, { errand } from '/app.js';

const ready = init({ module_or_path: '/app_bg.wasm' });
self.onmessage = async (event) => {
  await ready;
  try {
    const answer = errand(event.data);
    self.postMessage(answer, [answer.buffer]);
  } catch (fault) {
    // The page goes on to what it asks next, and says that this answer could not be read.
    console.error(fault);
    self.postMessage(new Uint8Array());
  }
};
