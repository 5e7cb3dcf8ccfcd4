import { type ChildProcess, spawn } from 'node:child_process';
import { createServer, connect as open, type Server, type Socket } from 'node:net';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';

/** A process of Node that runs a file of the project. */
export interface Started {
  child: ChildProcess;
  /** Everything it has written so far. */
  output(): string;
  /**
   * Waits until it has written something of this form, and gives it. The limit bounds a hang, not a speed.
   * @throws Error with its output when it does not
   */
  says(form: RegExp, withinMs?: number): Promise<RegExpExecArray>;
  kill(): void;
}

/** Starts `file` (a path from the top of the project) as a process of its own. */
export function startProcess(file: string, args: string[], env: Record<string, string> = {}): Started {
  const root = fileURLToPath(new URL('../../', import.meta.url));
  const child = spawn(process.execPath, [file, ...args], { cwd: root, env: { ...process.env, ...env } });
  let written = '';
  for (const stream of [child.stdout, child.stderr]) stream?.on('data', (data) => (written += String(data)));
  return {
    child,
    output: () => written,
    async says(form, withinMs = 300_000) {
      for (const until = Date.now() + withinMs; Date.now() < until; await wait(50)) {
        const found = form.exec(written);
        if (found !== null) return found;
      }
      throw new Error(`${file} did not say ${form}:\n${written}`);
    },
    kill: () => void child.kill('SIGKILL'),
  };
}

/** A way to a server that can be cut and mended. */
export interface Way {
  port: number;
  cut(): void;
  mend(): void;
  close(): void;
}

/** Opens a way to a port of this machine. */
export async function openWay(target: number): Promise<Way> {
  let isCut = false;
  const sockets = new Set<Socket>();
  const keep = (socket: Socket) => {
    sockets.add(socket);
    socket.on('error', () => undefined).on('close', () => sockets.delete(socket));
  };
  const server: Server = createServer((socket) => {
    keep(socket);
    if (isCut) return void socket.destroy();
    const onward = open(target, '127.0.0.1');
    keep(onward);
    socket.pipe(onward).pipe(socket);
  });
  await new Promise<void>((done) => server.listen(0, '127.0.0.1', done));
  const cut = () => {
    isCut = true;
    for (const socket of sockets) socket.destroy();
  };
  return {
    port: (server.address() as { port: number }).port,
    cut,
    mend: () => {
      isCut = false;
    },
    close: () => {
      cut();
      server.close();
    },
  };
}
