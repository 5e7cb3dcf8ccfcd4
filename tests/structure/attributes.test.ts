import { globSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

// A helper that writes markup (a time, a marked figure) inside an attribute's quotes ends the attribute there.
test('no view puts the markup of a time or a figure into an attribute', () => {
  const wrong = globSync('views/**/*.hbs').flatMap((file) =>
    readFileSync(file, 'utf8')
      .split('\n')
      .flatMap((line, i) =>
        /(?:alt|title|aria-label|content|placeholder|value)="[^"]*\{\{(?:when|ago|date|time|figured|sayFigure) /.test(
          line,
        )
          ? [`${file}:${i + 1}`]
          : [],
      ),
  );
  expect(wrong).toEqual([]);
});
