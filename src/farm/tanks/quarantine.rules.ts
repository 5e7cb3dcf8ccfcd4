import { plural } from '../../platform/words/numbers.ts';

/** A tank as far as its water decides. */
interface TankWater {
  quarantine: boolean;
  ownWater: string;
}

/**
 * Why a tank cannot be a quarantine, or stand beside one, in a system with these other tanks; '' where it can. Shared water
 * carries pests and illness both ways, so that a quarantine needs water of its own.
 */
export function quarantineRefusal(
  tank: TankWater,
  others: readonly (TankWater & { name: string })[],
  systemName: string,
): string {
  if (tank.quarantine && tank.ownWater === '' && others.length > 0)
    return `${systemName} has ${plural(others.length, 'other tank', 'other tanks')}, and a quarantine needs water of its own. Set it up as a system of its own, or say how its water is kept apart.`;
  const beside = others.find((other) => other.quarantine && other.ownWater === '');
  return beside === undefined
    ? ''
    : `${beside.name} is a quarantine, and would share its water with this tank. Say there first how its water is kept apart.`;
}
