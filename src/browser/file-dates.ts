// Sends each file's own date along: where neither a person nor the camera says when a photograph was taken, it is the best
// that is known. It is said beside the files before anything is sent. The form works without this script too.

function follow(form: HTMLFormElement): void {
  const files = form.querySelector<HTMLInputElement>('input[type="file"]');
  const dates = form.querySelector<HTMLInputElement>('input[name="fileDates"]');
  const said = form.querySelector<HTMLElement>('[data-file-dates-said]');
  if (files === null || dates === null || said === null) return;
  const tell = () => {
    const own = [...(files.files ?? [])].map(({ lastModified }) => lastModified);
    dates.value = own.join(' ');
    const days = [
      ...new Set(own.map((at) => new Date(at).toLocaleDateString('en-GB', { dateStyle: 'medium' }))),
    ];
    said.hidden = days.length === 0;
    said.textContent = `Where the camera does not say when, the file’s own date is taken: ${days.join(', ')}. Enter another where that is wrong.`;
  };
  files.addEventListener('change', tell);
  // A page that comes back keeps its files.
  tell();
}

for (const form of document.querySelectorAll<HTMLFormElement>('[data-file-dates]')) follow(form);
