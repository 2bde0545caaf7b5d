// The page's side of its worker.
import type { Ask, CallName, Calls, News, Reply } from './calls';

type Waiting = { resolve(value: unknown): void; reject(error: Error): void };

let worker: Worker;
let number = 0;
const waiting = new Map<number, Waiting>();
const listeners = new Set<(news: News) => void>();

function start(): void {
  worker = new Worker('worker.js', { type: 'module' });
  worker.onmessage = (message: MessageEvent<Reply | News>) => {
    const said = message.data;
    if ('news' in said) {
      if (said.news === 'broken' && said.words === 'restart') restart();
      for (const listener of listeners) listener(said);
      return;
    }
    const one = waiting.get(said.n);
    waiting.delete(said.n);
    if (said.error === undefined) one?.resolve(said.value);
    else one?.reject(new Error(said.error));
  };
  worker.onerror = (event) => {
    for (const listener of listeners) listener({ news: 'broken', words: event.message || 'the worker did not start' });
  };
}

function restart(): void {
  worker.terminate();
  for (const one of waiting.values()) one.reject(new Error('the engine was started anew: look whether it was recorded'));
  waiting.clear();
  start();
}

export function begin(): void { start(); }

export function listen(listener: (news: News) => void): void { listeners.add(listener); }

/** Asks the tab that writes to let go. A worker that let go itself is done: another begins. */
export function takeOver(): void {
  restart();
  worker.postMessage('take over');
}

/** Asks the worker. What changes the record is on the disk when the promise is kept. */
export function call<Name extends CallName>(name: Name, ...args: Parameters<Calls[Name]>): Promise<ReturnType<Calls[Name]>> {
  return new Promise((resolve, reject) => {
    const n = ++number;
    waiting.set(n, { resolve: resolve as (value: unknown) => void, reject });
    worker.postMessage({ n, name, args } satisfies Ask);
  });
}
