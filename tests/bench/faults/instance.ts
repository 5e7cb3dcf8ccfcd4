import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { readFileSync } from 'node:fs';
import { setTimeout as wait } from 'node:timers/promises';

/** A service in a process of its own. */
export class Instance {
  readonly address: string;
  readonly #env: NodeJS.ProcessEnv;
  #child: ChildProcess | null = null;
  /** The last that it said. */
  said = '';

  constructor(port: number, env: NodeJS.ProcessEnv) {
    this.address = `http://127.0.0.1:${port}`;
    this.#env = { ...process.env, ...env, PORT: String(port), LOG_LEVEL: 'error', HOST: '127.0.0.1' };
  }

  /** Starts it, without waiting until it answers. */
  launch(): ChildProcess {
    const child = spawn(process.execPath, ['src/main.ts'], {
      env: this.#env,
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    for (const out of [child.stdout, child.stderr])
      out?.on('data', (text) => {
        this.said = `${this.said}${text}`.slice(-4000);
      });
    this.#child = child;
    return child;
  }

  async start(): Promise<void> {
    this.launch();
    await this.becomesReady();
  }

  async becomesReady(): Promise<void> {
    const until = Date.now() + 120_000;
    while (!(await this.isReady())) {
      if (this.#child?.exitCode !== null || Date.now() > until)
        throw new Error(`it does not start: ${this.said}`);
      await wait(100);
    }
  }

  isReady(): Promise<boolean> {
    return fetch(`${this.address}/health/ready`, { signal: AbortSignal.timeout(2000) }).then(
      ({ ok }) => ok,
      () => false,
    );
  }

  /** Seconds of a processor that it took since it was started (fields 14 and 15 of /proc/PID/stat, in hundredths; proc(5)). */
  processorS(): number {
    try {
      const text = readFileSync(`/proc/${this.#child?.pid}/stat`, 'utf8');
      const fields = text.slice(text.lastIndexOf(')') + 2).split(' ');
      return (Number(fields[11]) + Number(fields[12])) / 100;
    } catch {
      return Number.NaN;
    }
  }

  async kill(signal: 'SIGKILL' | 'SIGTERM'): Promise<void> {
    const child = this.#child;
    if (child === null || child.exitCode !== null || child.signalCode !== null) return;
    const gone = once(child, 'exit');
    child.kill(signal);
    await gone;
  }
}
