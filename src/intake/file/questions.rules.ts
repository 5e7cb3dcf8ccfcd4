/** A person's answers about a file, by the question's id, and the settings for reading it. */
export type Answers = Readonly<Record<string, string>>;

/** What is asked. `takes` says which free text is an answer: any, where it is left out. */
type Asking = Pick<Question, 'text' | 'hint' | 'choices' | 'proposed'> & {
  takes?: (answer: string) => boolean;
};

/** One question about a file, asked once for all cells alike. */
export interface Question {
  /** Also the name of its field. */
  id: string;
  text: string;
  hint: string;
  /** What may be answered; none for free text. */
  choices: { value: string; text: string }[];
  /** What the file itself hints at: filled in to be checked, and no answer before it is sent. */
  proposed?: string;
  /** What was answered; '' while it is open. */
  answer: string;
  /** What it covers, in words, and how often each: nobody answers for a value that was not shown. */
  cases: Map<string, number>;
  /** How many it covers beyond those. */
  casesBeyond: number;
  /** The first rows it concerns, and how many cells in all. */
  rows: number[];
  count: number;
}

/** The answer by which rows in doubt are left out. */
export const leaveOutValue = 'leave';
export const leaveOutChoice = { value: leaveOutValue, text: 'Leave these rows out' };

/** More questions than this mean that the columns were misread; nobody answers so many one by one. Own choice. */
const mostQuestions = 40;
/** A question names the first rows it concerns, so that they can be found in the file; own choice. */
const rowsNamed = 5;
/** More values than this are no longer read one by one; own choice. */
const mostCases = 60;

/** The questions that come up while a file is read, each asked once. */
export function questionList(answers: Answers) {
  const asked = new Map<string, Question>();
  let unasked = 0;
  return {
    /**
     * The answer to a question; '' while it is open. `make` says what to ask; it runs once. `covers` says of this cell
     * what the answer would do to it.
     */
    ask(id: string, row: number, make: () => Asking, covers?: string): string {
      let question = asked.get(id);
      if (question === undefined) {
        if (asked.size >= mostQuestions) {
          unasked += 1;
          return '';
        }
        const { takes, ...made } = make();
        const answer = validAnswer(answers[id], made.choices, takes);
        question = { id, ...made, answer, cases: new Map(), casesBeyond: 0, rows: [], count: 0 };
        asked.set(id, question);
      }
      if (covers !== undefined) addCase(question, covers);
      question.count += 1;
      if (row > 0 && question.rows.length < rowsNamed && question.rows.at(-1) !== row)
        question.rows.push(row);
      return question.answer;
    },
    /** What was answered to a question, asked or not. */
    answerTo: (id: string): string => answers[id]?.trim() ?? '',
    questions: () => [...asked.values()],
    /** How many questions were left out beyond the most that are asked. */
    countUnasked: () => unasked,
  };
}
export type QuestionList = ReturnType<typeof questionList>;

function addCase(question: Question, covers: string): void {
  const times = question.cases.get(covers);
  if (times === undefined && question.cases.size >= mostCases) question.casesBeyond += 1;
  else question.cases.set(covers, (times ?? 0) + 1);
}

/** An answer that the question (still) has; else it is open. */
function validAnswer(
  answer: string | undefined,
  choices: Question['choices'],
  takes: (answer: string) => boolean = () => true,
): string {
  const chosen = answer?.trim() ?? '';
  const isValid = choices.length === 0 ? takes(chosen) : choices.some(({ value }) => value === chosen);
  return isValid ? chosen : '';
}

/** An id made of words of the file, safe as the name of a field and in an address. */
export function questionId(kind: string, ...words: string[]): string {
  return [kind, ...words.map((word) => encodeURIComponent(word.slice(0, 80)).replaceAll('%', '~'))].join('-');
}

/** Why something of a file is not taken: it holds nothing, waits for an answer, or cannot be taken. */
export interface NotTaken {
  state: 'nothing' | 'asked' | 'refused';
  reason: string;
}

export const awaitingAnswer: NotTaken = { state: 'asked', reason: 'waits for an answer above' };
export const leftOut: NotTaken = { state: 'refused', reason: 'left out, as answered' };
export const refusedBecause = (reason: string): NotTaken => ({ state: 'refused', reason });
export const nothingMeasured = (reason: string): NotTaken => ({ state: 'nothing', reason });

export function isNotTaken(value: object): value is NotTaken {
  return 'state' in value && value.state !== 'taken';
}
