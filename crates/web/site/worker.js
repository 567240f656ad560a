// Calculates beside the page: the compiled app first, then an errand in, its answer out, one at a time.
import init, { errand } from '/app.js';

let ready;
self.onmessage = async (event) => {
  if (event.data instanceof WebAssembly.Module) {
    ready = init({ module_or_path: event.data });
    return;
  }
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
