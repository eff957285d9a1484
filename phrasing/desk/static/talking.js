// What is asked of the desk's server, and what it answers.

export class Refusal extends Error {}

async function answered(response) {
  if (response.ok) return response;
  let words = await response.text();
  try {
    words = JSON.parse(words).error ?? words;
  } catch {
    // It was a sentence already.
  }
  throw new Refusal(words);
}

async function reached(path, options) {
  try {
    return await answered(await fetch(path, options));
  } catch (fault) {
    if (fault instanceof Refusal) throw fault;
    throw new Refusal("The desk does not answer: was it closed? Start “phrasing desk” again.");
  }
}

export const read = async (path) => (await reached(path)).json();

export const bytes = async (path) => {
  const response = await reached(path);
  return { content: await response.arrayBuffer(), headers: response.headers };
};

export const write = async (path, body) => (await reached(path, {
  method: "POST",
  headers: { "Content-Type": "application/json" },
  body: JSON.stringify(body),
})).json();

export const drop = async (file) => (await reached(`/drop?name=${encodeURIComponent(file.name)}`, {
  method: "POST",
  headers: { "Content-Type": "application/octet-stream" },
  body: file,
})).json();

// Calls with each new edition of a melody, until it is closed.
export function turns(name, told) {
  const source = new EventSource(`/turns/${encodeURIComponent(name)}`);
  source.addEventListener("message", ({ data }) => told(Number(data)));
  return () => source.close();
}
