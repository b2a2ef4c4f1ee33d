// What was sent and is not yet known to be saved: kept for a reload, told of after a while.
// Gives: unsavedKeep(model, message), unsavedLost(), useUnsaved(model), fileText(file).

const UNSAVED_KINDS = ["enter", "undo", "conditions", "renamed", "costs"];
const UNSAVED_PLACE = "leakdx-unsaved";
const UNSAVED_LATE = 3000; // milliseconds until the page says so

const unsaved = { list: unsavedRead(), lost: false, told: new Set() };

function unsavedRead() {
  try {
    const list = JSON.parse(sessionStorage.getItem(UNSAVED_PLACE) || "[]");
    return Array.isArray(list) ? list : [];
  } catch (error) {
    return []; // no storage in this window: what is unsaved is kept as long as the page is open
  }
}

function unsavedWrite(list) {
  unsaved.list = list;
  try {
    sessionStorage.setItem(UNSAVED_PLACE, JSON.stringify(list));
  } catch (error) {
    // As above; the banner says what is unsaved all the same.
  }
  unsaved.told.forEach((tell) => tell());
}

// Keeps a message that changes the job, and gives it with the job that it was said of.
function unsavedKeep(model, message) {
  const job = model.get("job");
  if (!job || !UNSAVED_KINDS.includes(message.do)) return message;
  const whole = { ...message, job: job.id };
  unsavedWrite([...unsaved.list, { job: job.id, message: whole, at: Date.now() }]);
  return whole;
}

function unsavedLost() {
  unsaved.lost = true;
  unsaved.told.forEach((tell) => tell());
}

// {late: messages unsaved for too long, elsewhere: those of other jobs, lost: no connection}.
function useUnsaved(model) {
  const saved = useTrait(model, "saved") || [];
  const faults = useTrait(model, "faults") || [];
  const job = useTrait(model, "job");
  const [, turn] = useState(0);
  const again = useRef(new Set());
  useEffect(() => {
    const tell = () => turn((n) => n + 1);
    // The name of Jupyter's own event for a connection that came or went.
    const moved = () => tell();
    unsaved.told.add(tell);
    model.on("comm_live_update", moved);
    return () => {
      unsaved.told.delete(tell);
      model.off("comm_live_update", moved);
    };
  }, [model]);
  useEffect(() => {
    const answered = new Set([...saved, ...faults.map((f) => f.key)]);
    const left = unsaved.list.filter((u) => !answered.has(u.message.key));
    if (left.length < unsaved.list.length) {
      unsaved.lost = false;
      unsavedWrite(left);
    }
  }, [saved, faults]);
  // What was left by the page before this one, sent once more when its job is open.  Python
  // knows the keys, so that nothing is written twice.
  useEffect(() => {
    if (!job) return;
    for (const left of unsavedBefore) {
      if (left.job !== job.id || again.current.has(left.message.key)) continue;
      again.current.add(left.message.key);
      wordsSend(model, left.message);
    }
  }, [job && job.id]);
  useEffect(() => {
    if (!unsaved.list.length) return undefined;
    const timer = setInterval(() => turn((n) => n + 1), 500);
    return () => clearInterval(timer);
  }, [unsaved.list.length]);
  const here = (u) => job && u.job === job.id;
  const old = unsaved.list.filter((u) => Date.now() - u.at > UNSAVED_LATE);
  return {
    late: old.filter(here),
    elsewhere: old.filter((u) => !here(u)),
    lost: unsaved.lost,
  };
}

const unsavedBefore = unsaved.list.slice();

// The text of a chosen file, as {name, text}.
async function fileText(file) {
  return { name: file.name, text: await file.text() };
}
