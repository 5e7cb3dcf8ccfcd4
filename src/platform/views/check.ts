import Handlebars from 'handlebars';
import { countMessage, type Helper } from './helpers.ts';

type Call = hbs.AST.MustacheStatement | hbs.AST.BlockStatement | hbs.AST.SubExpression;

/** What templates may refer to. */
export interface Known {
  partials: ReadonlySet<string>;
  helpers: ReadonlyMap<string, Helper>;
}

const BUILT_IN = new Set(['if', 'unless', 'each', 'with', 'lookup']);

/**
 * Every reference of one parsed template that leads nowhere, as sentences with their line: partials and helpers
 * that do not exist, helpers with a wrong number of arguments, partial names that are computed.
 */
export function faultsOf(template: hbs.AST.Program, known: Known): string[] {
  const search = new ReferenceSearch(known);
  search.accept(template);
  return search.faults;
}

class ReferenceSearch extends Handlebars.Visitor {
  readonly faults: string[] = [];
  private readonly inline = new Set<string>();
  private readonly known: Known;

  constructor(known: Known) {
    super();
    this.known = known;
  }

  override DecoratorBlock(block: hbs.AST.DecoratorBlock): void {
    const [name] = block.params;
    if (name?.type === 'StringLiteral') this.inline.add((name as hbs.AST.StringLiteral).value);
    super.DecoratorBlock(block);
  }

  override PartialStatement(partial: hbs.AST.PartialStatement): void {
    this.partial(partial);
    super.PartialStatement(partial);
  }

  override PartialBlockStatement(partial: hbs.AST.PartialBlockStatement): void {
    this.partial(partial);
    super.PartialBlockStatement(partial);
  }

  override MustacheStatement(mustache: hbs.AST.MustacheStatement): void {
    if (mustache.params.length > 0 || mustache.hash) this.call(mustache);
    super.MustacheStatement(mustache);
  }

  override BlockStatement(block: hbs.AST.BlockStatement): void {
    this.call(block);
    super.BlockStatement(block);
  }

  override SubExpression(expression: hbs.AST.SubExpression): void {
    this.call(expression);
    super.SubExpression(expression);
  }

  private partial({ name, loc }: hbs.AST.PartialStatement | hbs.AST.PartialBlockStatement): void {
    if (name.type !== 'PathExpression') {
      this.fault(loc, 'the name of a partial must be written out');
      return;
    }
    const { original } = name as hbs.AST.PathExpression;
    if (original === '@partial-block' || this.inline.has(original) || this.known.partials.has(original))
      return;
    this.fault(loc, `there is no partial "${original}"`);
  }

  private call({ path, params, loc }: Call): void {
    const name = (path as hbs.AST.PathExpression).original;
    if (BUILT_IN.has(name)) return;
    const helper = this.known.helpers.get(name);
    if (!helper) {
      this.fault(loc, `there is no helper "${name}"`);
      return;
    }
    const [least, most] = helper.takes;
    if (params.length < least || params.length > most)
      this.fault(loc, countMessage(name, helper, params.length));
  }

  private fault(loc: hbs.AST.SourceLocation, what: string): void {
    this.faults.push(`line ${loc.start.line}: ${what}`);
  }
}
