/** Watches how long this thread works without letting others have a turn. */
export interface LoopWatch {
  /** The longest stretch of processor time between two turns of the loop, ms: other work on the machine adds nothing. */
  longestMs(): number;
  stop(): void;
}

export function watchLoop(): LoopWatch {
  let longest = 0;
  let last = process.threadCpuUsage();
  let isOn = true;
  const turn = () => {
    const { user, system } = process.threadCpuUsage(last);
    longest = Math.max(longest, (user + system) / 1000);
    last = process.threadCpuUsage();
    if (isOn) setImmediate(turn);
  };
  setImmediate(turn);
  return {
    longestMs: () => longest,
    stop: () => {
      isOn = false;
    },
  };
}
